package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"kilter/suites/verdict"
)

// headline returns the verdict in one or two words, and its class.
func headline(run verdict.Run) (word, class string) {
	switch {
	case run.Error != nil:
		return run.Error.Kind.Words(), "undetermined"
	case !run.Passed:
		return "failed", "failed"
	case run.Count(verdict.Passed) == 0:
		return "nothing shown", "undetermined"
	}
	return "passed", "passed"
}

// sentence says in one sentence what the run has shown.
func sentence(run verdict.Run, start time.Time) string {
	controller := "The controller"
	switch run.Controller {
	case "":
	case "none":
		controller = "Without a controller the site"
	default:
		controller += " " + run.Controller
	}
	if run.Error != nil {
		text := "The run could not be judged to its end: " + run.Error.Kind.Words()
		if at, known := run.Error.AtS.Value(); known {
			text += " at " + when(start, at)
		}
		if run.Error.Detail != "" {
			text += " (" + run.Error.Detail + ")"
		}
		if run.Error.Kind == verdict.BenchFault {
			text += "; nothing here counts for or against the controller"
		}
		return text + "."
	}
	judged := len(run.Criteria) - run.Count(verdict.NotExercised)
	var text string
	switch failures := run.Failures(); {
	case len(failures) > 0:
		c := tightest(failures)
		text = fmt.Sprintf("%s failed %d of %s", controller, len(failures), criteria(judged))
		text += fmt.Sprintf("; the worst: %s", c.Title())
		if c.Observed.Known() && c.Limit.Known() {
			text += fmt.Sprintf(", observed %s, limit %s", verdict.QuantityBeside(c.Observed, c.Limit, c.Unit), c.LimitText())
		}
		if at, known := c.AtS.Value(); known {
			text += ", at " + when(start, at)
		}
	case run.Count(verdict.Passed) > 0:
		var passed []verdict.Criterion
		for _, c := range run.Criteria {
			if c.Status == verdict.Passed {
				passed = append(passed, c)
			}
		}
		c := tightest(passed)
		text = fmt.Sprintf("%s kept %d of %s", controller, len(passed), criteria(judged))
		if c.Margin.Known() {
			text += fmt.Sprintf("; the closest: %s, with %s to spare", c.Title(), verdict.Quantity(c.Margin, c.Unit))
		}
	default:
		text = controller + " has neither kept nor broken a criterion"
	}
	if n := run.Count(verdict.Undetermined); n > 0 {
		text += fmt.Sprintf("; %d undetermined", n)
	}
	if n := run.Count(verdict.NotExercised); n > 0 {
		text += fmt.Sprintf("; %d not exercised by this scenario", n)
	}
	return strings.ReplaceAll(text, " -", " −") + "."
}

func criteria(n int) string {
	if n == 1 {
		return "1 judged criterion"
	}
	return fmt.Sprintf("%d judged criteria", n)
}

func when(start time.Time, at float64) string {
	text := verdict.Moment(at)
	if clock := local(start, at); clock != "" {
		text += " (" + clock + " local)"
	}
	return text
}

// tightest returns the criterion with the least margin relative to its
// limit: units differ, so the bare figures cannot be compared.
func tightest(all []verdict.Criterion) verdict.Criterion {
	best, least := all[0], math.Inf(1)
	for _, c := range all {
		if part, known := share(c); known && part < least {
			best, least = c, part
		}
	}
	return best
}

// noStart leaves the local clock out.
var noStart time.Time
