package learn

import (
	"fmt"
	"slices"

	"kilter/physics"
	"kilter/scenarios"
)

// Seen is what a log or a run shows of the complaint.
type Seen struct {
	Oscillation   Oscillation // of the grid flow, which is what all loops together leave
	CirculatingW  float64     // mean [W]
	CirculatingWh float64
}

func seenOf(gridW []float64, powers [][]float64, stepS float64) Seen {
	s := Seen{Oscillation: oscillation(gridW, stepS)}
	s.CirculatingW, s.CirculatingWh = circulating(powers, stepS)
	return s
}

// seen is what a record shows.
func (r *Record) seen() Seen {
	var powers [][]float64
	for _, u := range r.Units {
		powers = append(powers, u.PowerW)
	}
	return seenOf(r.GridW, powers, r.StepS)
}

// seen is what the log's window shows.
func (r *Result) seen() Seen { return r.Window.Record.seen() }

// Replay is the written scenario, run with nobody on the wire, beside the log.
type Replay struct {
	GridW   []float64   // at the log's moments
	PowerW  [][]float64 // of each inverter
	RMSW    []float64   // of each inverter's difference to the log
	Explain []float64   // of each, the share of the log's variance that it explains [1]
	Log     Seen
	Model   Seen
	Scatter Scatter // how far the model's figures are chance
}

// Replay runs the scenario as its files say.
func (r *Result) Replay(scenarioFile string) (*Replay, error) {
	sc, err := scenarios.LoadScenario(scenarioFile)
	if err != nil {
		return nil, fmt.Errorf("what was learned does not load: %w", err)
	}
	p, err := physics.New(sc.Site.Plant)
	if err != nil {
		return nil, fmt.Errorf("what was learned does not run: %w", err)
	}
	rec := &r.Window.Record
	every := max(1, int64(rec.StepS*1000)/sc.Step.Milliseconds())
	out := &Replay{PowerW: make([][]float64, len(r.Units)), RMSW: make([]float64, len(r.Units)), Explain: make([]float64, len(r.Units)), Log: r.seen()}
	for n := range rec.GridW {
		out.GridW = append(out.GridW, p.GridW)
		for i := range r.Units {
			out.PowerW[i] = append(out.PowerW[i], p.Inverters[i].PowerW)
		}
		if n+1 < len(rec.GridW) {
			for range every {
				p.Step()
			}
		}
	}
	for i, u := range rec.Units {
		out.RMSW[i], out.Explain[i] = likeness(u.PowerW, out.PowerW[i])
	}
	out.Model = seenOf(out.GridW, out.PowerW, rec.StepS)
	out.Scatter = r.scatter(slices.Min(out.Explain))
	return out, nil
}
