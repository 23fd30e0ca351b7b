package report

import (
	"fmt"
	"strings"

	"kilter/suites/verdict"
)

var seedsHead = []string{"criterion", "verdict", "limit", "worst margin", "of seed", "median margin"}

// seeds writes one block for a scenario that was played with several seeds: a line for each criterion, and the five
// parts of the worst failure of each.
func (t *table) seeds(s verdict.Seeds, runs []verdict.Run) {
	first := runs[0]
	word, class := headlineOf(s)
	fmt.Fprintf(t, "%s  %s", t.painted(class, strings.ToUpper(word)), printable(s.Scenario))
	fmt.Fprintf(t, "  (site %s, %s, controller %s)\n", printable(first.Site), spanOf(s.Seeds), printable(first.Controller))
	rows := [][]string{seedsHead}
	statuses := []verdict.Status{""}
	for _, o := range s.Criteria {
		c := find(worstRun(o, runs), o)
		seed := "–"
		if o.WorstMargin.Known() {
			seed = fmt.Sprint(o.WorstSeed)
		}
		rows = append(rows, []string{printable(o.Title()), tallied(o), printable(figureOrDash(c.Limit, c.LimitText())),
			printable(figureOrDash(o.WorstMargin, signed(o.WorstMargin, o.Unit))), seed,
			printable(figureOrDash(o.MedianMargin, signed(o.MedianMargin, o.Unit)))})
		statuses = append(statuses, o.Status())
	}
	if len(rows) > 1 {
		t.grid(rows, 2, statuses)
	}
	for _, run := range runs {
		if run.Error != nil {
			fmt.Fprintf(t, "  seed %d: %s\n", run.Seed, printable(sentence(run, noStart)))
		}
	}
	for _, o := range s.Criteria {
		if o.Failed == 0 {
			continue
		}
		run := worstRun(o, runs)
		fmt.Fprintf(t, "\n  the worst of %d, seed %d\n", o.Failed, run.Seed)
		t.explain(run, find(run, o))
	}
}

// tallied counts the seeds by status: "19 passed, 1 failed".
func tallied(o verdict.OverSeeds) string {
	var parts []string
	for _, x := range []struct {
		n int
		s verdict.Status
	}{{o.Failed, verdict.Failed}, {o.Passed, verdict.Passed}, {o.Undetermined, verdict.Undetermined}, {o.NotExercised, verdict.NotExercised}} {
		if x.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", x.n, x.s.Words()))
		}
	}
	return strings.Join(parts, ", ")
}

// settled counts the criteria that passed somewhere.
func settled(s verdict.Seeds) int {
	n := 0
	for _, o := range s.Criteria {
		n += o.Passed
	}
	return n
}

// spanOf tells which seeds: "20 seeds, 7 to 26".
func spanOf(seeds []uint64) string {
	for i, s := range seeds {
		if s != seeds[0]+uint64(i) {
			return fmt.Sprintf("%d seeds", len(seeds))
		}
	}
	return fmt.Sprintf("%d seeds, %d to %d", len(seeds), seeds[0], seeds[len(seeds)-1])
}

// worstRun is the run with the worst finding on a criterion. One that failed without a margin is worse than any.
func worstRun(o verdict.OverSeeds, runs []verdict.Run) verdict.Run {
	worst := runs[0]
	for _, run := range runs {
		if c := find(run, o); c.Status == verdict.Failed && !c.Margin.Known() {
			return run
		}
		if run.Seed == o.WorstSeed {
			worst = run
		}
	}
	return worst
}

// find returns a run's finding on a criterion, or one without figures.
func find(run verdict.Run, o verdict.OverSeeds) verdict.Criterion {
	for _, c := range run.Criteria {
		if c.Name == o.Name && c.Clause == o.Clause {
			return c
		}
	}
	return verdict.Criterion{Name: o.Name, Clause: o.Clause, Unit: o.Unit}
}
