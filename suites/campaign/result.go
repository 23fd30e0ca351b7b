package campaign

import (
	"math"

	"kilter/scenarios"
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
	// FirstS is when a failed criterion was first broken, in simulated seconds.
	FirstS verdict.Number `json:"first_s,omitzero"`
	// Unavoidable says of a failure that nothing could have prevented it at the moment that is judged.
	Unavoidable bool `json:"unavoidable,omitempty"`
	// Raised says that the limit is above that of the scenario, since nothing could have kept that one.
	Raised bool `json:"raised,omitempty"`
}

// raise notes on which findings the limit is not the scenario's own.
func raise(all []Finding, must *scenarios.Must) {
	for i := range all {
		f := &all[i]
		limit, _ := f.Limit.Value()
		stated := math.Inf(1)
		switch {
		case f.Unit != "W":
		case must.Import != nil && (f.Name == "import" || f.Name == "import.level"):
			stated = must.Import.BelowW
		case must.Export != nil && (f.Name == "export" || f.Name == "export.level"):
			stated = must.Export.BelowW
		}
		f.Raised = limit > stated
	}
}

// findings takes a verdict's criteria apart.
func findings(list []verdict.Criterion) []Finding {
	var all []Finding
	for _, c := range list {
		whole := Finding{Name: c.Name, Status: c.Status, Margin: c.Margin, Observed: c.Observed, Limit: c.Limit, Unit: c.Unit, Bound: c.Bound}
		if len(c.Clauses) < 2 {
			all = append(all, whole.failing(&c))
			continue
		}
		for _, x := range c.Clauses {
			clause := Finding{Name: c.Name + "." + x.Name, Status: x.Status, Margin: x.Margin, Observed: x.Observed, Limit: x.Limit, Unit: x.Unit, Bound: x.Bound}
			all = append(all, clause.failing(&c))
		}
	}
	return all
}

// failing takes over what its criterion says of the failure, where the clause failed.
func (f Finding) failing(c *verdict.Criterion) Finding {
	if f.Status == verdict.Failed {
		f.FirstS, f.Unavoidable = c.FirstS, c.Avoidable != nil && !*c.Avoidable
	}
	return f
}

// floors are the least scales by unit: margins of limits near to zero are told in these. They are what a site's owner would
// call little: common practice, no source. What has another unit, or none, has a floor of 1.
//
// So the margins of each criterion are told in shares of: import and export, of their limit and no less than 100 W; circulating, hunting,
// of their limit, no less than 100 W; their energies, of the allowance, no less than 50 Wh; settle, fail_safe, recovery and
// reversion, of the time that is allowed, no less than 10 s; soc_spread, reserve, schedule and fuse_heating, of their limit and no
// less than 1 % of charge or heat; supply_current, of the fuse; command_economy, wear and the read rate, of the rate that is
// allowed; and what wire_manners counts, of the count that is tolerated and one more.
var floors = map[string]float64{"W": 100, "Wh": 50, "A": 1, "s": 10, "%": 1, "1/h": 10, "1/d": 0.1}

// counts are units of which only a whole one more or less can be.
var counts = map[string]bool{"exceptions": true, "writes": true, "limits": true}

// Scale is what a clause's margin is divided by so that watts and seconds compare: its limit, and no less than a floor that
// goes with the unit; for what is counted, the count that would fail.
func (f *Finding) Scale() float64 {
	limit, _ := f.Limit.Value()
	if counts[f.Unit] {
		return math.Abs(limit) + 1
	}
	floor, known := floors[f.Unit]
	if !known {
		floor = 1
	}
	return max(math.Abs(limit), floor)
}

// Share is the clause's margin by its scale: 0 at the limit, negative where it failed. NaN says that there is none. A
// failure that has no margin counts as a whole scale. A level whose limit was raised to what nothing could have
// kept has none while it holds: it lies there if all goes well. Of what is counted, one less than the count that would fail still has a margin of one.
func (f *Finding) Share() float64 {
	if f.Status == verdict.Failed {
		if v, known := f.Margin.Value(); known && v < 0 {
			return v / f.Scale()
		}
		return -1
	}
	if v, known := f.Margin.Value(); known && f.Status == verdict.Passed {
		if f.Raised {
			return math.NaN()
		}
		if counts[f.Unit] {
			v++
		}
		return max(0, v) / f.Scale()
	}
	return math.NaN()
}

// Worst is the least share of a run, and the clause it is of. A controller that died is at -1 under the name of the fault's
// kind. A failure that nothing could have prevented says nothing of the controller, and does not count. NaN says that nothing
// could be judged.
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
		if s := r.Findings[i].Share(); !r.Findings[i].Unavoidable && !math.IsNaN(s) && !(share <= s) {
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
