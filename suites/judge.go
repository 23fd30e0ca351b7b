package suites

import (
	"errors"
	"fmt"
	"math"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites/criteria"
)

// judge feeds what the bench shows to the monitors that a scenario asks for.
type judge struct {
	monitors []criteria.Monitor
	scenes   []*scene // by monitor; nil while it holds
	feed     feed
	recall   recall
	look     int64 // ticks from one look for failures to the next
}

func newJudge(sc *scenarios.Scenario) (*judge, error) {
	c := newSetting(sc)
	j := &judge{feed: newFeed(sc), recall: newRecall(sc), look: max(1, 1000/sc.Step.Milliseconds())}
	for _, s := range statedBy(sc) {
		m, err := s.make(c)
		if err != nil {
			return nil, fmt.Errorf("%s: must: %w", sc.Source, err)
		}
		j.monitors = append(j.monitors, m)
	}
	j.scenes = make([]*scene, len(j.monitors))
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
	j.recall.see(t)
	if s.Tick%j.look == 0 {
		j.keepScenes(s.Tick)
	}
}

// keepScenes keeps what is remembered of the criteria that have failed since the last look, while it is remembered.
func (j *judge) keepScenes(now int64) {
	for i, m := range j.monitors {
		if j.scenes[i] != nil {
			continue
		}
		if breach := m.Breach(); breach != 0 {
			j.scenes[i] = j.recall.scene(breach, now)
		}
	}
}

// results are the findings in the order in which the scenario states them.
func (j *judge) results() []criteria.Result {
	list := make([]criteria.Result, len(j.monitors))
	for i, m := range j.monitors {
		list[i] = m.Result()
		if list[i].Status == criteria.Failed && j.scenes[i] == nil { // it shows only at the end
			j.scenes[i] = j.recall.scene(int64(math.Round(list[i].FirstBreachS/j.feed.sample.StepS)), j.feed.sample.Tick)
		}
	}
	return list
}
