package falsify

import (
	"math"
	"strings"

	"kilter/suites/campaign"
	"kilter/suites/verdict"
)

// Margin is what one run says of the controller.
type Margin struct {
	// Share is the least share of a clause that counts, negative where it failed; NaN where nothing could be judged.
	Share float64
	// Clause is what the share is of.
	Clause string
	// Unavoidable are the criteria whose failure nothing could have prevented; they do not count.
	Unavoidable []string
	// guide is what the search goes by: the share where it is negative, and otherwise a blend of all.
	guide float64
}

// counting says which criteria count.
type counting struct {
	only string          // all where it is empty
	not  map[string]bool // those of which a case is known already
}

func (c *counting) counts(clause string) bool {
	name := criterionOf(clause)
	return (c.only == "" || name == c.only || strings.HasPrefix(name, c.only+".")) && !c.not[name]
}

// criterionOf is a clause's criterion. Each of a scenario's sentences is one of its own: formula.NAME.
func criterionOf(clause string) string {
	name, rest, _ := strings.Cut(clause, ".")
	if name == "formula" {
		sentence, _, _ := strings.Cut(rest, ".")
		name += "." + sentence
	}
	return name
}

// weigh tells what a result comes to.
func (c *counting) weigh(r *campaign.Result) Margin {
	m := Margin{Share: math.NaN(), guide: math.NaN()}
	if r.FaultKind != "" {
		if r.FaultKind != verdict.BenchFault && c.counts(string(r.FaultKind)) {
			m.Share, m.Clause, m.guide = -1, string(r.FaultKind), -1
		}
		return m
	}
	blend, n := 0.0, 0
	for i := range r.Findings {
		f := &r.Findings[i]
		if f.Unavoidable {
			m.Unavoidable = append(m.Unavoidable, criterionOf(f.Name))
			continue
		}
		s := f.Share()
		if math.IsNaN(s) || !c.counts(f.Name) {
			continue
		}
		if !(m.Share <= s) {
			m.Share, m.Clause = s, f.Name
		}
		blend += math.Pow(max(s, leastShare), -sharpness)
		n++
	}
	switch {
	case n == 0:
	case m.Share < 0:
		m.guide = m.Share
	default:
		m.guide = math.Pow(blend/float64(n), -1/sharpness)
	}
	return m
}

// The guide of a case that passes is the power mean of its clauses' shares with an exponent of -sharpness. The plain least would be
// flat wherever one clause is near its limit for reasons of its own, while another comes nearer unseen; the mean moves with
// each, most with the least.
const (
	sharpness  = 4.0
	leastShare = 1e-3
)
