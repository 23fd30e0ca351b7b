package campaign

import (
	"math"

	"kilter/suites/verdict"
)

// Result is what a run came to. It is the same whoever played the run.
type Result struct {
	// Passed says that nothing failed; a criterion that could not be judged does not fail.
	Passed bool `json:"passed"`
	// Fault says why there is no judgement, such as a controller that died; empty where there is one.
	Fault     string            `json:"fault,omitempty"`
	FaultKind verdict.ErrorKind `json:"fault_kind,omitempty"`
	// Trace is the SHA-256 of the run's trace.
	Trace string `json:"trace"`
	// Findings are the criteria's clauses, in the order of the verdict.
	Findings []Finding `json:"findings"`
	// WritesPerHour and ReadsPerHour are the controller's requests in simulated time.
	WritesPerHour float64 `json:"writes_per_hour"`
	ReadsPerHour  float64 `json:"reads_per_hour"`
}

// Finding is one clause of a criterion. A criterion of one clause has its name alone.
type Finding struct {
	Name   string         `json:"name"` // criterion, or criterion.clause
	Status verdict.Status `json:"status"`
	// Margin, Observed and Limit are in Unit; unknown where there is none to tell.
	Margin   verdict.Number `json:"margin"`
	Observed verdict.Number `json:"observed"`
	Limit    verdict.Number `json:"limit"`
	Unit     string         `json:"unit,omitempty"`
	Bound    verdict.Bound  `json:"bound,omitempty"`
}

// findings takes a verdict's criteria apart.
func findings(list []verdict.Criterion) []Finding {
	var all []Finding
	for _, c := range list {
		if len(c.Clauses) < 2 {
			all = append(all, Finding{c.Title(), c.Status, c.Margin, c.Observed, c.Limit, c.Unit, c.Bound})
			continue
		}
		for _, x := range c.Clauses {
			all = append(all, Finding{c.Title() + "." + x.Name, x.Status, x.Margin, x.Observed, x.Limit, x.Unit, x.Bound})
		}
	}
	return all
}

// floors are the least scales by unit: margins of limits near to zero are told in these. They are what a site's owner would
// call little: common practice, no source.
var floors = map[string]float64{"W": 100, "Wh": 50, "A": 1, "s": 10, "%": 1, "1/h": 10, "1/d": 0.1}

// Scale is what a clause's margin is divided by so that watts and seconds compare: its limit, and no less than a floor that
// goes with the unit.
func (f *Finding) Scale() float64 {
	floor, known := floors[f.Unit]
	if !known {
		floor = 1
	}
	limit, _ := f.Limit.Value()
	return max(math.Abs(limit), floor)
}

// Share is the clause's margin by its scale: 0 at the limit, negative where it failed. NaN says that there is none. A
// failure that has no margin counts as a whole scale.
func (f *Finding) Share() float64 {
	if f.Status == verdict.Failed {
		if v, known := f.Margin.Value(); known && v < 0 {
			return v / f.Scale()
		}
		return -1
	}
	if v, known := f.Margin.Value(); known && f.Status == verdict.Passed {
		return max(0, v) / f.Scale()
	}
	return math.NaN()
}

// Worst is the least share of a run, and the clause it is of. A controller that died is at -1 under the name of the fault's
// kind. NaN says that nothing could be judged.
func (r *Result) Worst() (share float64, clause string) {
	switch r.FaultKind {
	case "":
	case verdict.BenchFault:
		return math.NaN(), ""
	default:
		return -1, string(r.FaultKind)
	}
	share = math.NaN()
	for i := range r.Findings {
		if s := r.Findings[i].Share(); !math.IsNaN(s) && !(share <= s) {
			share, clause = s, r.Findings[i].Name
		}
	}
	return share, clause
}

// Find returns the finding of that name, nil where there is none.
func (r *Result) Find(name string) *Finding {
	for i := range r.Findings {
		if r.Findings[i].Name == name {
			return &r.Findings[i]
		}
	}
	return nil
}
