package falsify

import (
	"fmt"
	"math"
	"strings"

	"kilter/suites/verdict"
)

// Says tells in plain words what a hunt came to, and what that does and does not show.
func (h *Hunt) Says() []string {
	var says []string
	runs := verdict.Counted(len(h.Trials), "run")
	switch {
	case len(h.Trials) == 0:
		return []string{"Nothing was played."}
	case len(h.Cases) > 0:
		says = append(says, fmt.Sprintf("%s in %s.", verdict.Counted(len(h.Cases), "counterexample"), runs))
	default:
		says = append(says, fmt.Sprintf("No counterexample in %s.", runs))
		says = append(says, h.nothing()...)
	}
	if n, example := h.Unjudged(); n > 0 {
		text := fmt.Sprintf("%s could not be judged, and count neither way", verdict.Counted(n, "case"))
		if example != "" {
			text += "; the first since " + example
		}
		says = append(says, text+".")
	}
	avoided := 0
	for i := range h.Trials {
		avoided += min(1, len(h.Trials[i].Unavoidable))
	}
	if avoided > 0 {
		says = append(says, fmt.Sprintf("In %s a criterion failed that the batteries could not have kept at that moment; such failures do not count.", verdict.Counted(avoided, "case")))
	}
	return says
}

// nothing is what it means that nothing was found.
func (h *Hunt) nothing() []string {
	var says []string
	if t := h.Least(); t != nil {
		var where []string
		for _, n := range h.Problem.Needs(t.X) {
			where = append(where, n.Name+" "+n.Value)
		}
		if where == nil {
			where = []string{"nothing disturbed"}
		}
		says = append(says, fmt.Sprintf("The least margin met was %.2g of its scale, of %s, in run %d: %s.", t.Share, t.Clause, t.Run, strings.Join(where, ", ")))
	}
	if n, _ := h.Unjudged(); n == len(h.Trials) {
		return append(says, "That shows nothing of the controller: no case could be judged.")
	}
	c := h.Coverage()
	met := fmt.Sprintf("%.0f %% of the cells of all pairs of parameters", math.Floor(100*float64(c.PairsMet)/float64(max(1, c.Pairs))))
	if c.Pairs == 0 { // there is one parameter
		met = tenths(c)
	}
	says = append(says, fmt.Sprintf("That shows that the controller held in the cases that were played, which met %s. It does not prove that there is no case in which it fails.", met))
	if h.Method == Random {
		judged := len(h.Trials) - 1 // the plain case is not drawn
		if n, _ := h.Unjudged(); judged > n {
			says = append(says, fmt.Sprintf("Cases were drawn evenly: with 95 %% confidence it fails in less than %.2g %% of them.", 100*ruleOfThree(judged-n)))
		}
	}
	return says
}

// ruleOfThree bounds a share of which none was met in n independent draws, with 95 % confidence: 1 - 0.05^(1/n), which is about 3/n
// (J. A. Hanley, A. Lippman-Hand, If nothing goes wrong, is everything all right?, JAMA 249, 1983).
func ruleOfThree(n int) float64 { return 1 - math.Pow(0.05, 1/float64(n)) }

// Tell writes what a hunt came to for a terminal. See is the command that shows each case failing.
func (h *Hunt) Tell(see func(i int) string) string {
	var b strings.Builder
	for _, s := range h.Says() {
		fmt.Fprintln(&b, s)
	}
	for i, c := range h.Cases {
		fmt.Fprintf(&b, "\n%s  %s failed", CaseFile(i), c.Clause)
		if c.Finding.Unit != "" {
			fmt.Fprintf(&b, ": observed %s, %s", verdict.QuantityBeside(c.Finding.Observed, c.Finding.Limit, c.Finding.Unit), bounded(c))
		}
		fmt.Fprintf(&b, "\n  found      in run %d, and made small in %s\n", c.Run, verdict.Counted(c.Runs, "run"))
		needs := h.Problem.Needs(c.X)
		if needs == nil {
			fmt.Fprintln(&b, "  needs      nothing: the scenario as it stands")
		}
		for k, n := range needs {
			head := "needs"
			if k > 0 {
				head = ""
			}
			fmt.Fprintf(&b, "  %-9s  %-12s %-8s", head, n.Name, n.Value)
			if n.Plain != "" {
				fmt.Fprintf(&b, " instead of %s", n.Plain)
			}
			fmt.Fprintln(&b)
		}
		fmt.Fprintf(&b, "  see it     %s\n", see(i))
		if !c.Again {
			fmt.Fprintln(&b, "  beware     played again from its file it did not fail")
		}
	}
	cover := h.Coverage()
	fmt.Fprintf(&b, "\ncoverage   %s; %d of %d cells of pairs; %s\n", tenths(cover), cover.PairsMet, cover.Pairs, verdict.Counted(h.Restarts, "restart"))
	return b.String()
}

// bounded is the limit in words.
func bounded(c *Counterexample) string {
	word := "at most"
	if c.Finding.Bound == verdict.AtLeast {
		word = "at least"
	}
	return word + " " + verdict.Quantity(c.Finding.Limit, c.Finding.Unit)
}

// tenths says how many parts of ranges were met.
func tenths(c Coverage) string {
	met, all := 0, 0
	for _, p := range c.Parameters {
		met, all = met+p.Met, all+len(p.Counts)
	}
	return fmt.Sprintf("%d of %d parts of the ranges of %s", met, all, verdict.Counted(len(c.Parameters), "parameter"))
}
