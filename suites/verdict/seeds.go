package verdict

import (
	"cmp"
	"slices"
)

// Seeds is what one scenario came to over several seeds. It follows from the runs; New makes it.
type Seeds struct {
	Scenario string   `json:"scenario"`
	Seeds    []uint64 `json:"seeds"`
	// Passed says that the run of every seed passed.
	Passed bool `json:"passed"`
	// Errors are the seeds whose run could not be judged to its end.
	Errors   []uint64    `json:"errors,omitempty"`
	Criteria []OverSeeds `json:"criteria"`
}

// OverSeeds is one criterion, or one clause of it, over the seeds of a scenario.
type OverSeeds struct {
	Name   string `json:"name"`
	Clause string `json:"clause,omitempty"`
	Unit   string `json:"unit"`
	// These count the seeds by status.
	Passed       int `json:"passed"`
	Failed       int `json:"failed"`
	Undetermined int `json:"undetermined"`
	NotExercised int `json:"not_exercised"`
	// WorstMargin is the least of the margins, and WorstSeed the first seed that has it. Where no seed has a margin,
	// WorstSeed is the first that failed, if any.
	WorstMargin Number `json:"worst_margin"`
	WorstSeed   uint64 `json:"worst_seed"`
	// MedianMargin is the middle one, or the mean of the two in the middle.
	MedianMargin Number `json:"median_margin"`
	// FailedSeeds are those on which it failed.
	FailedSeeds []uint64 `json:"failed_seeds,omitempty"`
}

// Title returns the criterion's name, with its clause where it has several.
func (o OverSeeds) Title() string { return Criterion{Name: o.Name, Clause: o.Clause}.Title() }

// Status is the worst that the criterion came to.
func (o OverSeeds) Status() Status {
	switch {
	case o.Failed > 0:
		return Failed
	case o.Undetermined > 0:
		return Undetermined
	case o.Passed > 0:
		return Passed
	}
	return NotExercised
}

// Of returns the runs of one scenario, in their order.
func (v Verdict) Of(scenario string) []Run {
	var same []Run
	for _, run := range v.Runs {
		if run.Scenario == scenario {
			same = append(same, run)
		}
	}
	return same
}

// OverSeeds returns the sums of one scenario, if it was played with several seeds.
func (v Verdict) OverSeeds(scenario string) (Seeds, bool) {
	for _, s := range v.Seeds {
		if s.Scenario == scenario {
			return s, true
		}
	}
	return Seeds{}, false
}

// overSeeds sums up the scenarios that were played with more than one seed, in the order of the runs.
func overSeeds(runs []Run) []Seeds {
	var all []Seeds
	for _, run := range runs {
		if slices.ContainsFunc(all, func(s Seeds) bool { return s.Scenario == run.Scenario }) {
			continue
		}
		if same := (Verdict{Runs: runs}).Of(run.Scenario); len(same) > 1 {
			all = append(all, SumUp(same))
		}
	}
	return all
}

// SumUp sums up the runs of one scenario, of which there is at least one.
func SumUp(runs []Run) Seeds {
	s := Seeds{Scenario: runs[0].Scenario, Passed: true, Criteria: []OverSeeds{}}
	margins := map[int][]float64{}
	for _, run := range runs {
		s.Seeds = append(s.Seeds, run.Seed)
		s.Passed = s.Passed && run.Passed
		if run.Error != nil {
			s.Errors = append(s.Errors, run.Seed)
		}
		for _, c := range run.Criteria {
			i := slices.IndexFunc(s.Criteria, func(o OverSeeds) bool { return o.Name == c.Name && o.Clause == c.Clause })
			if i < 0 {
				i = len(s.Criteria)
				s.Criteria = append(s.Criteria, OverSeeds{Name: c.Name, Clause: c.Clause, Unit: c.Unit, WorstSeed: run.Seed})
			}
			s.Criteria[i].take(run.Seed, c)
			if m, known := c.Margin.Value(); known {
				margins[i] = append(margins[i], m)
			}
		}
	}
	for i := range s.Criteria {
		s.Criteria[i].MedianMargin = median(margins[i])
	}
	return s
}

// take adds the finding of one seed.
func (o *OverSeeds) take(seed uint64, c Criterion) {
	switch c.Status {
	case Passed:
		o.Passed++
	case Failed:
		if o.FailedSeeds = append(o.FailedSeeds, seed); o.Failed == 0 && !o.WorstMargin.Known() {
			o.WorstSeed = seed
		}
		o.Failed++
	case Undetermined:
		o.Undetermined++
	default:
		o.NotExercised++
	}
	margin, known := c.Margin.Value()
	if worst, any := o.WorstMargin.Value(); known && (!any || margin < worst) {
		o.WorstMargin, o.WorstSeed = c.Margin, seed
	}
}

func median(list []float64) Number {
	if len(list) == 0 {
		return Number{}
	}
	sorted := slices.SortedFunc(slices.Values(list), cmp.Compare[float64])
	middle := len(sorted) / 2
	if len(sorted)%2 == 1 {
		return Of(sorted[middle])
	}
	return Of(sorted[middle-1]/2 + sorted[middle]/2)
}
