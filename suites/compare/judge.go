package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"kilter/suites/verdict"
)

// pending is a change that is judged when all are known.
type pending struct {
	Change
	scenario    int
	settled     bool // by the verdicts alone
	paired      bool
	differences []float64 // of the pairs whose margins are known
	a, b        []float64 // margins that are known, where there are no pairs
	better      int       // pairs that failed on A alone
	worse       int       // and on B alone
	p, shareP   float64   // NaN without a test
}

func newPending(paired bool, a, b *Side) pending {
	x := pending{paired: paired, p: math.NaN(), shareP: math.NaN()}
	x.A, x.B = a, b
	of := cmp.Or(b, a)
	x.Name, x.Clause, x.Unit = of.Name, of.Clause, of.Unit
	x.settle()
	if a == nil || b == nil {
		return x
	}
	x.a, x.b = known(a.Margins), known(b.Margins)
	if !paired {
		return x
	}
	for i := range a.Margins {
		before, is := a.Margins[i].Value()
		after, too := b.Margins[i].Value()
		if is && too {
			x.differences = append(x.differences, after-before)
		}
	}
	for _, seed := range b.FailedSeeds {
		if !slices.Contains(a.FailedSeeds, seed) {
			x.worse++
		}
	}
	x.better = a.Failed - (b.Failed - x.worse)
	return x
}

// settle judges what needs no numbers.
func (x *pending) settle() {
	a, b := x.A, x.B
	say := func(j Judgement, format string, args ...any) {
		x.settled, x.Judgement, x.Why = true, j, fmt.Sprintf(format, args...)
	}
	switch {
	case a == nil && b.Failed > 0:
		say(Worse, "newly judged, and fails on %s", seedsText(b.FailedSeeds))
	case a == nil:
		say(Same, "newly judged: %s", b.Status().Words())
	case b == nil && a.Status() == verdict.Passed:
		say(Worse, "held, and is no longer judged")
	case b == nil:
		say(Unclear, "is no longer judged")
	case b.Failed == 0 && b.Passed == 0 && a.Passed > 0 && a.Failed == 0:
		say(Worse, "held, and is %s now", b.Status().Words())
	case x.paired && a.Failed == 0 && a.Passed > 0 && b.Failed > 0:
		say(Worse, "held, and fails on %s", seedsText(b.FailedSeeds))
	case x.paired && a.Failed > 0 && b.Failed == 0 && b.Passed > 0:
		say(Better, "failed on %s, and holds", seedsText(a.FailedSeeds))
	}
}

// difference is the typical difference of the margins, and false where no margins are known.
func (x *pending) difference() (float64, bool) {
	switch {
	case x.paired && len(x.differences) > 0:
		return median(x.differences), true
	case !x.paired && len(x.a) > 0 && len(x.b) > 0:
		return median(x.b) - median(x.a), true
	}
	return 0, false
}

// test computes the p-values, where there are seeds for them.
func (x *pending) test() {
	if x.A == nil || x.B == nil {
		return
	}
	if x.paired {
		if len(x.differences) >= 2 {
			x.p = signedRank(x.differences)
		}
		if len(x.A.Margins) >= 2 && !x.settled && x.better+x.worse > 0 {
			x.shareP = signTest(x.better, x.worse)
		}
		return
	}
	if len(x.a) >= 2 && len(x.b) >= 2 {
		x.p = rankSum(x.a, x.b)
	}
	if !x.settled && x.A.Failed+x.B.Failed > 0 {
		x.shareP = fisher(x.A.Failed, len(x.A.Margins), x.B.Failed, len(x.B.Margins))
	}
}

// judge settles all changes of a comparison together.
func (c *Comparison) judge(all []pending, opt Options) {
	var ps []float64
	for i := range all {
		all[i].test()
		for _, p := range [...]float64{all[i].p, all[i].shareP} {
			if !math.IsNaN(p) {
				ps = append(ps, p)
			}
		}
	}
	c.Tests = len(ps)
	threshold := holm(ps, opt.Level)
	strictest := opt.Level / float64(max(1, len(ps)))
	for i := range all {
		x := &all[i]
		if !x.settled {
			x.weigh(opt.Tolerance, threshold, strictest)
		}
		if d, known := x.difference(); known {
			x.Difference = verdict.Of(d)
		}
		x.P, x.FailuresP = verdict.Of(x.p), verdict.Of(x.shareP)
		s := &c.Scenarios[x.scenario]
		s.Changes = append(s.Changes, x.Change)
		c.Worse = c.Worse || x.Judgement == Worse
	}
	c.remark(strictest)
}

// weigh judges a change by its numbers.
func (x *pending) weigh(tolerance, threshold, strictest float64) {
	d, known := x.difference()
	scale := max(x.A.scale, x.B.scale)
	large := known && math.Abs(d) > tolerance*scale
	tells := func(p float64) bool { return p <= threshold }
	switch {
	case !large:
		x.Judgement, x.Why = Same, "the margin is the same"
		if d != 0 {
			x.Why = "the margin moved by " + signed(d, x.Unit) + ", within the tolerance"
		}
	case !x.paired && len(x.a)+len(x.b) == 2:
		x.Judgement, x.Why = Unclear, fmt.Sprintf("the margin moved by %s, on another seed", signed(d, x.Unit))
	case tells(x.p):
		x.Judgement, x.Why = direction(d), fmt.Sprintf("the margin moved by %s, more than seeds explain (p = %.2g)", signed(d, x.Unit), x.p)
	case x.few(strictest) && x.agree():
		x.Judgement, x.Why = direction(d), fmt.Sprintf("the margin moved by %s, %s", signed(d, x.Unit), x.onAll())
	case x.few(strictest):
		x.Judgement, x.Why = Unclear, fmt.Sprintf("the margin moved by %s, but the seeds do not agree, and are too few for a test", signed(d, x.Unit))
	default:
		x.Judgement, x.Why = Unclear, fmt.Sprintf("the margin moved by %s, which seeds explain (p = %.2g)", signed(d, x.Unit), x.p)
	}
	if x.A.Failed == x.B.Failed && x.better+x.worse == 0 {
		return
	}
	shares := fmt.Sprintf("failed on %d of %d seeds, fails on %d of %d", x.A.Failed, len(x.A.Margins), x.B.Failed, len(x.B.Margins))
	switch {
	case tells(x.shareP) && x.B.Failed*len(x.A.Margins) > x.A.Failed*len(x.B.Margins):
		x.Judgement, x.Why = Worse, shares+fmt.Sprintf(", more than seeds explain (p = %.2g); ", x.shareP)+x.Why
	case tells(x.shareP):
		x.Judgement, x.Why = Better, shares+fmt.Sprintf(", more than seeds explain (p = %.2g); ", x.shareP)+x.Why
	default:
		if x.Judgement == Same {
			x.Judgement = Unclear
		}
		x.Why = shares + ", which seeds may explain; " + x.Why
	}
}

// few says whether no result of the test could reach the level.
func (x *pending) few(strictest float64) bool {
	if x.paired {
		return leastP(len(x.differences), 0, 0) > strictest
	}
	return leastP(0, len(x.a), len(x.b)) > strictest
}

// agree says whether every seed moved in the same direction.
func (x *pending) agree() bool {
	if !x.paired {
		return slices.Max(x.a) < slices.Min(x.b) || slices.Max(x.b) < slices.Min(x.a)
	}
	up := !slices.ContainsFunc(x.differences, func(d float64) bool { return d <= 0 })
	down := !slices.ContainsFunc(x.differences, func(d float64) bool { return d >= 0 })
	return up || down
}

func (x *pending) onAll() string {
	if n := len(x.B.Margins); n > 1 {
		return fmt.Sprintf("on all %d seeds, which are too few for a test", n)
	}
	return "on one seed"
}

func direction(d float64) Judgement {
	if d < 0 {
		return Worse
	}
	return Better
}

// holm is the largest p-value that tells something at the level for all together; negative where none does.
func holm(ps []float64, level float64) float64 {
	threshold := -1.0
	for i, p := range slices.Sorted(slices.Values(ps)) {
		if p > level/float64(len(ps)-i) {
			break
		}
		threshold = p
	}
	return threshold
}

func known(list []verdict.Number) (values []float64) {
	for _, n := range list {
		if v, is := n.Value(); is {
			values = append(values, v)
		}
	}
	return values
}

func median(list []float64) float64 {
	sorted := slices.Sorted(slices.Values(list))
	middle := len(sorted) / 2
	if len(sorted)%2 == 1 {
		return sorted[middle]
	}
	return sorted[middle-1]/2 + sorted[middle]/2
}

// signed is a difference with its sign.
func signed(d float64, unit string) string {
	text := verdict.Quantity(verdict.Of(d), unit)
	if d > 0 {
		text = "+" + text
	}
	return text
}

func seedsText(seeds []uint64) string {
	const most = 8
	var words []string
	for i, s := range seeds {
		if i == most {
			words = append(words, fmt.Sprintf("%d more", len(seeds)-most))
			break
		}
		words = append(words, fmt.Sprint(s))
	}
	if len(words) == 1 {
		return "seed " + words[0]
	}
	return "seeds " + strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
