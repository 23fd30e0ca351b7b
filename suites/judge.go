package suites

import (
	"errors"
	"fmt"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites/criteria"
)

// judge feeds what the bench shows to the monitors that a scenario asks for.
type judge struct {
	monitors []criteria.Monitor
	feed     feed
}

func newJudge(sc *scenarios.Scenario) (*judge, error) {
	c := newSetting(sc)
	j := &judge{feed: newFeed(sc)}
	for i := range statements {
		s := &statements[i]
		if !s.stated(&sc.Must) {
			continue
		}
		m, err := s.make(c)
		if err != nil {
			return nil, fmt.Errorf("%s: must: %w", sc.Source, err)
		}
		j.monitors = append(j.monitors, m)
	}
	return j, nil
}

// Check says all that keeps a scenario from being played and judged, beyond what its file alone shows.
func Check(sc *scenarios.Scenario) error {
	_, err := newJudge(sc)
	return errors.Join(err, emulator.Check(sc))
}

// see judges one tick.
func (j *judge) see(t *emulator.Tick) {
	s := j.feed.fill(t)
	for _, m := range j.monitors {
		m.Observe(s)
	}
}

// results are the findings in the order in which the scenario states them.
func (j *judge) results() []criteria.Result {
	list := make([]criteria.Result, len(j.monitors))
	for i, m := range j.monitors {
		list[i] = m.Result()
	}
	return list
}
