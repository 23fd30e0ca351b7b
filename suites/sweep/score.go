package sweep

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"kilter/suites/campaign"
	"kilter/suites/verdict"
)

// Goals that are no findings: the least share of all findings, and what the controller asks of the wire.
const (
	ShareGoal  = "share"
	WritesGoal = "writes_per_hour"
	ReadsGoal  = "reads_per_hour"
)

// Goal is what is to be small, or large where More is set. The value of a setting is that of its worst run.
type Goal struct {
	Name string `json:"name"`
	More bool   `json:"more,omitempty"`
	Unit string `json:"unit,omitempty"`
}

// FindGoal looks for a goal in results: a finding's observed value, which is to be large where its bound is a least one. The error
// lists what there is.
func FindGoal(name string, results []*campaign.Result) (Goal, error) {
	switch name {
	case ShareGoal:
		return Goal{Name: name, More: true}, nil
	case WritesGoal, ReadsGoal:
		return Goal{Name: name, Unit: "1/h"}, nil
	}
	known := []string{ShareGoal, WritesGoal, ReadsGoal}
	for _, r := range results {
		if f := r.Find(name); f != nil {
			return Goal{name, f.Bound == verdict.AtLeast, f.Unit}, nil
		}
		for _, f := range r.Findings {
			if !slices.Contains(known, f.Name) {
				known = append(known, f.Name)
			}
		}
	}
	return Goal{}, fmt.Errorf("the goal %q is nothing that these stories find; there are %s", name, strings.Join(known, ", "))
}

// of is a run's value of the goal; false where it was not judged.
func (g *Goal) of(r *campaign.Result) (float64, bool) {
	switch g.Name {
	case ShareGoal:
		share, _ := r.Worst()
		return share, !math.IsNaN(share)
	case WritesGoal:
		return r.WritesPerHour, true
	case ReadsGoal:
		return r.ReadsPerHour, true
	}
	if f := r.Find(g.Name); f != nil && (f.Status == verdict.Passed || f.Status == verdict.Failed) {
		return f.Observed.Value()
	}
	return 0, false
}

// worse says whether a value of the goal is worse than another.
func (g *Goal) worse(a, b float64) bool {
	if g.More {
		return a < b
	}
	return a > b
}

// Score is what a setting came to over its runs.
type Score struct {
	Point    int      `json:"point"` // of the plan; -1 for the settings as they stand
	Settings []string `json:"settings,omitempty"`
	// Runs is how many count, Failed how many of these failed, and Faults how many more ended in a fault of the bench.
	Runs   int `json:"runs"`
	Failed int `json:"failed"`
	Faults int `json:"faults,omitempty"`
	// Share is the least share of any run, Clause what it is of, and Story and Seed where it was. Mean is the mean over the runs
	// of each one's least.
	Share  verdict.Number `json:"share"`
	Mean   verdict.Number `json:"mean_share"`
	Clause string         `json:"clause,omitempty"`
	Story  string         `json:"scenario,omitempty"`
	Seed   uint64         `json:"seed"`
	// Goals are the values of the goals, in their order.
	Goals []verdict.Number `json:"goals,omitempty"`
}

// Passed says that the setting met every criterion in all runs.
func (s *Score) Passed() bool { return s.Runs > 0 && s.Failed == 0 && s.Faults == 0 }

// ScoreOf is what a setting came to in some cases, whose results stand in the same order; nil results are left out.
func (p *Plan) ScoreOf(point int, cases []Case, results []*campaign.Result, goals []Goal) Score {
	s := Score{Point: point, Goals: make([]verdict.Number, len(goals))}
	if point != Unvaried {
		s.Settings = p.Points[point]
	}
	sum, judged := 0.0, 0
	for i, c := range cases {
		r := results[i]
		if c.Point != point || r == nil {
			continue
		}
		if r.FaultKind == verdict.BenchFault {
			s.Faults++
			continue
		}
		s.Runs++
		if !r.Passed {
			s.Failed++
		}
		if share, clause := r.Worst(); !math.IsNaN(share) {
			if least, known := s.Share.Value(); !known || share < least {
				s.Share, s.Clause, s.Story, s.Seed = verdict.Of(share), clause, p.Stories[c.Story].Name, c.Seed
			}
			sum += share
			judged++
		}
		for k := range goals {
			if v, is := goals[k].of(r); is {
				if old, known := s.Goals[k].Value(); !known || goals[k].worse(v, old) {
					s.Goals[k] = verdict.Of(v)
				}
			}
		}
	}
	if judged > 0 {
		s.Mean = verdict.Of(sum / float64(judged))
	}
	return s
}

// Scores are those of all points of the design, in their order.
func (p *Plan) Scores(cases []Case, results []*campaign.Result, goals []Goal) []Score {
	byPoint := make([][2]int, len(p.Points)) // the cases of a point stand together
	for i, c := range cases {
		if c.Part != OfDesign || c.Point == Unvaried {
			continue
		}
		if byPoint[c.Point][1] == 0 {
			byPoint[c.Point][0] = i
		}
		byPoint[c.Point][1] = i + 1
	}
	scores := make([]Score, len(p.Points))
	for point, at := range byPoint {
		scores[point] = p.ScoreOf(point, cases[at[0]:at[1]], results[at[0]:at[1]], goals)
	}
	return scores
}
