package suites

import (
	"kilter/emulator"
	"kilter/emulator/trace"
	"kilter/scenarios"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// Watch judges a bench while it runs, for those who look on.
type Watch struct {
	scenario *scenarios.Scenario
	judge    *judge
}

// NewWatch makes the monitors that a scenario asks for.
func NewWatch(sc *scenarios.Scenario) (*Watch, error) {
	j, err := newJudge(sc)
	if err != nil {
		return nil, err
	}
	return &Watch{scenario: sc, judge: j}, nil
}

// See judges one tick.
func (w *Watch) See(t *emulator.Tick) { w.judge.see(t) }

// Findings judge the run so far as if it ended now. It is called between two ticks.
func (w *Watch) Findings() []verdict.Criterion {
	var list []verdict.Criterion
	for _, r := range w.judge.results() {
		list = append(list, finding(r, nil, w.scenario, &trace.Recorder{}))
	}
	return list
}

// Wiring is a scenario's site as the diagrams draw it.
func Wiring(sc *scenarios.Scenario) report.Wiring { return wiring(sc) }
