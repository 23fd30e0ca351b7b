package compare

import (
	"fmt"

	"kilter/suites/verdict"
)

// theRun stands in the place of a criterion for whether runs came to their end.
const theRun = "the run itself"

// ended compares whether the runs came to their end.
func ended(a, b []verdict.Run) (pending, bool) {
	count := func(runs []verdict.Run) (n int, first *verdict.RunError) {
		for _, run := range runs {
			if run.Error == nil {
				continue
			}
			if n++; first == nil {
				first = run.Error
			}
		}
		return n, first
	}
	before, why := count(a)
	after, whyB := count(b)
	if before+after == 0 {
		return pending{}, false
	}
	x := pending{settled: true}
	x.Name = theRun
	if whyB != nil {
		why = whyB
	}
	x.Why = fmt.Sprintf("%d of %d did not come to the end, %d of %d before: %s", after, len(b), before, len(a), why.Kind.Words())
	switch share := after*len(a) - before*len(b); {
	case share > 0 && why.Kind == verdict.BenchFault:
		x.Judgement = Unclear
	case share > 0:
		x.Judgement = Worse
	case share < 0:
		x.Judgement = Better
	default:
		x.Judgement = Same
	}
	return x, true
}

// remark says what the comparison as a whole rests on.
func (c *Comparison) remark(strictest float64) {
	say := func(format string, args ...any) { c.Remarks = append(c.Remarks, fmt.Sprintf(format, args...)) }
	single, other, few, identical, paired, least := 0, 0, 0, 0, 0, 0
	for _, s := range c.Scenarios {
		identical += s.Identical
		switch n := len(s.SeedsB); {
		case !s.Paired && len(s.SeedsA) == 1 && n == 1:
			other++
		case n == 1:
			single++
		case s.Paired && leastP(n, 0, 0) > strictest:
			few++
			if least == 0 || n < least {
				least = n
			}
		}
		if s.Paired {
			paired += len(s.SeedsA)
		}
	}
	switch {
	case paired == 1 && identical == 1:
		say("The two traces are the same, bit for bit.")
	case paired > 0 && identical == paired:
		say("The traces of all %d pairs of runs are the same, bit for bit.", paired)
	}
	if single > 0 && identical < paired {
		say("With one seed the differences are exact, and cannot be told from chance: another seed may show others. Several seeds on both sides allow a test.")
	}
	if other > 0 {
		say("In %d scenarios the two sides have one seed each, and not the same one: nothing can be told from chance.", other)
	}
	if few > 0 && identical < paired {
		say("%d seeds are too few for a test of %d figures together at %.2g %%: it takes at least %d seeds. Until then a difference counts where every seed agrees.",
			least, c.Tests, 100*strictest*float64(max(1, c.Tests)), pairsFor(strictest))
	}
}
