package criteria

import (
	"fmt"
	"math"
	"time"
)

// FuseHeating bounds how hot the supply's fuses may get. The fuse is given by two
// points of its published curve.
type FuseHeating struct {
	// Below is the bound on the heating as a share of what melts the fuse, above 0
	// and at most 1.
	Below float64
	// CarriesA is the current that the fuse carries without melting, however long.
	CarriesA float64
	// GateA is a larger current that it must carry for GateTime.
	GateA    float64
	GateTime time.Duration
}

// gates are the least currents that a gG fuse carries for 10 s, as multiples of
// its rating: 33, 42, 52, 75, 160 and 290 A for 16, 20, 25, 32, 63 and 100 A
// (IEC 60269-1 table 3, from a secondary source; check value OC-04).
var gates = [...]struct{ ratedA, times float64 }{
	{16, 33.0 / 16}, {20, 42.0 / 20}, {25, 52.0 / 25}, {32, 75.0 / 32}, {63, 160.0 / 63}, {100, 290.0 / 100},
}

// FuseGG gives the heating of a gG fuse of a rated current from 16 to 100 A: it
// carries 1.25 times that (IEC 60269-1 table 2; check-values OC-01) and holds the
// gate of 10 s. For a rating between two of the table the more cautious gate is
// taken.
func FuseGG(ratedA, below float64) (FuseHeating, error) {
	last := len(gates) - 1
	if !(ratedA >= gates[0].ratedA && ratedA <= gates[last].ratedA) {
		return FuseHeating{}, fmt.Errorf("fuse_heating: fuse is %v A, but the gates of gG fuses are known from %v to %v A",
			ratedA, gates[0].ratedA, gates[last].ratedA)
	}
	k := 0
	for gates[k].ratedA < ratedA {
		k++
	}
	times := gates[k].times
	if gates[k].ratedA != ratedA {
		times = min(times, gates[k-1].times)
	}
	return FuseHeating{
		Below: below, CarriesA: 1.25 * ratedA, GateA: times * ratedA, GateTime: 10 * time.Second,
	}, nil
}

// fuseHeating keeps, for the current I_p of each phase p, the heat of a body that
// I squared heats and that cools by itself (the thermal replica of IEC 60255-149):
//
//	H_p[n] = a H_p[n-1] + (1 - a) (I_p[n] / CarriesA)^2,  a = e^(-step / tau)
//
// from cold. It tends to 1 under CarriesA, and reaches 1 from cold under a larger
// current I after t = tau ln(I^2 / (I^2 - CarriesA^2)), which makes
// tau = GateTime / ln(GateA^2 / (GateA^2 - CarriesA^2)). Under a current far above
// CarriesA that is a bound on I^2 t, of CarriesA^2 x tau. H is a share of the most
// sensitive fuse's melting heat: it must not melt below 1, and may above.
//
// The same heat from the least currents that the batteries could have made of
// the phases is unavoidable, U_p; and
//
//	margin = min over p and n of (max(Below, U_p[n]) - H_p[n])
//
// as a share in %. Whether the excess could have been avoided is judged from the
// history of least currents, each as if the batteries had done all since the
// start.
//
// Exercised counts the samples in which a phase carried more than CarriesA, or
// could have by the batteries' doing: nothing else can ever heat the fuse to 1.
//
// Not modelled: ambient temperature, the real curve's steeper end (a fuse that
// must melt within 0.1 s under its upper gate takes longer here), arcing.
type fuseHeating struct {
	p FuseHeating
	timeline
	cool, feed float64 // what a step leaves of the heat; what a square of A adds
	heat       [mostPhases]float64
	least      [mostPhases]float64

	worst      float64 // the largest H - max(Below, U)
	worstHeat  float64
	worstTick  int64
	worstPhase int
	hottest    float64
	breachTick int64
	exercised  int
}

// NewFuseHeating watches the heating of the supply's fuses.
func NewFuseHeating(p FuseHeating, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantFraction("fuse_heating", "below", p.Below); err != nil {
		return nil, err
	}
	if err := wantPositive("fuse_heating", "carries", p.CarriesA); err != nil {
		return nil, err
	}
	if !(p.GateA > p.CarriesA) || !finite(p.GateA) {
		return nil, fmt.Errorf("fuse_heating: gate is %v A, but must be a finite number above carries, %v A", p.GateA, p.CarriesA)
	}
	if err := wantDuration("fuse_heating", "gate_time", p.GateTime, time.Millisecond); err != nil {
		return nil, err
	}
	ratio := p.GateA / p.CarriesA
	tauS := p.GateTime.Seconds() / logarithm(ratio*ratio/(ratio*ratio-1))
	cool := decay(line.stepS / tauS)
	return &fuseHeating{
		p: p, timeline: line, cool: cool, feed: (1 - cool) / (p.CarriesA * p.CarriesA), worst: math.Inf(-1),
	}, nil
}

func (m *fuseHeating) Name() string { return "fuse_heating" }

func (m *fuseHeating) Observe(s *Sample) {
	if !m.accept(s, soundPhases(s)) {
		return
	}
	put := false
	for i := range s.Phases {
		p := &s.Phases[i]
		heat := float64(m.cool*m.heat[i]) + float64(m.feed*p.CurrentA*p.CurrentA)
		least := float64(m.cool*m.least[i]) + float64(m.feed*p.LeastA*p.LeastA)
		m.heat[i], m.least[i] = heat, least
		put = put || max(p.CurrentA, p.MostA) > m.p.CarriesA
		m.hottest = max(m.hottest, heat)
		limit := max(m.p.Below, least)
		if excess := heat - limit; excess > m.worst {
			m.worst, m.worstHeat, m.worstTick, m.worstPhase = excess, heat, s.Tick, i
			if excess > heatRounding && m.breachTick == 0 {
				m.breachTick = s.Tick
			}
		}
	}
	if put {
		m.exercised++
	}
}

// heatRounding forgives the last digits of a share.
const heatRounding = 1e-9

func (m *fuseHeating) Breach() int64 { return m.breachTick }

func (m *fuseHeating) Result() Result {
	level := idle("heat", "min over phases and time of (max(below, unavoidable) - heat)", "%")
	if m.worstTick != 0 {
		level = clause(level.Name, level.Formula,
			float64(100*m.worstHeat), float64(100*(m.worstHeat-m.worst)), 100*heatRounding, "%", m.at(m.worstTick))
	}
	r := conclude("fuse_heating", m.exercised, NotExercised, level)
	if m.breachTick != 0 {
		r.FirstBreachS = m.at(m.breachTick)
		r.Avoidable = true
	}
	r.Figures = []Figure{{"hottest", 100 * m.hottest, "%"}}
	if m.worstTick != 0 {
		r.note("the fuse of L%d reached %.3g %% of the heat that may melt it", m.worstPhase+1, 100*m.worstHeat)
	}
	return m.blame(r)
}
