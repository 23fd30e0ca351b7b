package suites

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"

	"kilter/emulator"
	"kilter/emulator/trace"
	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/criteria"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// describe writes the verdict on one play.
func describe(out *Outcome, opt Options, p *physics.Plant, gone *emulator.ControllerError) verdict.Run {
	sc := out.Scenario
	hash := sha256.Sum256(out.Parquet)
	audit := p.Audit()
	r := verdict.Run{
		Scenario: sc.Name, Title: sc.Title, Site: sc.Site.Name, Seed: sc.Seed,
		Pace: opt.Pace.String(), Controller: opt.title(),
		StartedLocal: sc.Starts.Format("2006-01-02 15:04 ") + sc.Zone.String(),
		StepMS:       verdict.Of(float64(sc.Step.Milliseconds())),
		DurationS:    verdict.Seconds(float64(p.TimeMS()) / 1000),
		TraceSHA256:  hex.EncodeToString(hash[:]),
		Audit: verdict.Audit{
			WorstNodeW: verdict.Of(audit.WorstNodeW), EnergyResidualWh: verdict.Of(audit.EnergyResidualWh),
			WorstAtS: verdict.Seconds(float64(audit.WorstAtTick) * sc.Step.Seconds()),
			LimitW:   verdict.Of(physics.AuditLimitW), LimitWh: verdict.Of(physics.AuditLimitWh),
		},
		Reproduce: opt.Reproduce,
		Cautions:  report.Cautions,
	}
	for i, c := range out.Results {
		r.Criteria = append(r.Criteria, finding(c, out.scenes[i], sc, out.Trace))
	}
	switch {
	case !audit.Ok():
		r.Error = &verdict.RunError{Kind: verdict.BenchFault, Detail: fmt.Sprintf(
			"the audit failed: a node was %g W out of balance, and %g Wh came from nowhere; this is a fault of the bench and not of the controller",
			audit.WorstNodeW, audit.EnergyResidualWh)}
	case gone != nil:
		kind := verdict.ControllerNeverCame
		if gone.Came {
			kind = verdict.ControllerDied
		}
		r.Error = &verdict.RunError{Kind: kind, Detail: gone.Text, AtS: r.DurationS}
	}
	return r
}

// finding turns a criterion's result into its line of the verdict.
func finding(c criteria.Result, s *scene, sc *scenarios.Scenario, rec *trace.Recorder) verdict.Criterion {
	stated := stating(sc, c.Name)
	f := verdict.Criterion{
		Name: c.Name, Status: verdict.Status(c.Status), Exercised: c.Exercised,
		Unit: c.Unit, Detail: c.Detail, Bound: bound(c.AtLeast), Columns: stated.columns(rec), Decides: c.Decides,
	}
	if c.Status == criteria.Failed {
		if !c.Unweighed {
			f.Avoidable = &c.Avoidable
		}
		f.FirstS = verdict.Seconds(c.FirstBreachS)
		if s != nil {
			f.Cause = s.cause(sc, rec)
		}
	}
	// A margin of what nobody put to the test would look like one that was earned.
	if c.Valid && c.Status != criteria.NotExercised {
		f.Margin, f.Observed, f.Limit = thousandths(c.Margin), thousandths(c.Observed), thousandths(c.Limit)
		f.AtS = verdict.Seconds(c.AtS)
	}
	for i := range c.Clauses {
		f.Clauses = append(f.Clauses, clause(&c.Clauses[i]))
		if c.Clauses[i].Name == c.Decides {
			f.Formula = c.Clauses[i].Formula
		}
	}
	for _, x := range c.Figures {
		f.Figures = append(f.Figures, verdict.Figure{Name: x.Name, Value: thousandths(x.Value), Unit: x.Unit})
	}
	if len(c.Clauses) > 0 && c.Decides == c.Clauses[0].Name { // further clauses have no allowance, and no level in the trace
		f.Allowance = stated.allows(&sc.Must)
		switch c.Name {
		case "import", "circulating":
			f.TraceLimit = f.Limit
		case "export":
			f.TraceLimit = verdict.Of(-c.Limit)
		}
	}
	return f
}

func clause(c *criteria.ClauseResult) verdict.Clause {
	v := verdict.Clause{Name: c.Name, Formula: c.Formula, Status: verdict.Status(c.Status), Unit: c.Unit, Bound: bound(c.AtLeast)}
	if c.Valid {
		v.Margin, v.Observed, v.Limit = thousandths(c.Margin), thousandths(c.Observed), thousandths(c.Limit)
		v.AtS = verdict.Seconds(c.AtS)
	}
	return v
}

func bound(atLeast bool) verdict.Bound {
	if atLeast {
		return verdict.AtLeast
	}
	return verdict.AtMost
}

// thousandths rounds a figure to what is worth telling; a picowatt is rounding.
func thousandths(v float64) verdict.Number { return verdict.Of(math.Round(v*1000) / 1000) }
