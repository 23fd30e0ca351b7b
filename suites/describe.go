package suites

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"

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
		Pace: opt.Pace.String(), Controller: opt.Controller.Name,
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
	for _, c := range out.Results {
		r.Criteria = append(r.Criteria, finding(c, sc, out.Trace))
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
func finding(c criteria.Result, sc *scenarios.Scenario, rec *trace.Recorder) verdict.Criterion {
	f := verdict.Criterion{
		Name: c.Name, Status: verdict.Status(c.Status), Exercised: c.Exercised,
		Unit: c.Unit, Detail: c.Detail, Bound: verdict.AtMost, Columns: slices.Clone(stating(c.Name).columns),
		Allowance: stating(c.Name).allows(&sc.Must),
	}
	if c.Status == criteria.Failed {
		f.Avoidable = &c.Avoidable
		f.FirstS = verdict.Seconds(c.FirstBreachS)
	}
	if c.Valid {
		f.Margin, f.Observed, f.Limit = thousandths(c.Margin), thousandths(c.Observed), thousandths(c.Limit)
		f.AtS = verdict.Seconds(c.AtS)
	}
	if len(c.Clauses) > 0 {
		f.Formula = c.Clauses[0].Formula
	}
	switch c.Name {
	case "import", "circulating":
		f.TraceLimit = f.Limit
	case "export":
		f.TraceLimit = verdict.Of(-c.Limit)
	case "soc_spread":
		for _, col := range rec.Columns {
			if col.Kind == trace.SOC {
				f.Columns = append(f.Columns, col.Name)
			}
		}
	}
	return f
}

// thousandths rounds a figure to what is worth telling; a picowatt is rounding.
func thousandths(v float64) verdict.Number { return verdict.Of(math.Round(v*1000) / 1000) }
