package trust

import (
	"fmt"
	"io"
	"strings"

	"kilter/suites/criteria"
)

// The bounds that a study must keep.
const (
	mostFalse  = 0.001 // of the criteria that were judged in stable cases
	leastFound = 0.99  // of the unstable cases that swung
)

// row is what became of one criterion.
type row struct {
	name                              string
	judged, false, undetermined, idle int // in stable cases
	found, open                       int // in unstable cases that swung: failed, undetermined
}

// Totals sums a study up.
type Totals struct {
	Judged, False  int // criteria in stable cases
	Counted, Found int // unstable cases
}

// Holds says whether the study keeps its bounds.
func (t Totals) Holds() bool {
	return float64(t.False) <= mostFalse*float64(t.Judged) && float64(t.Found) >= leastFound*float64(t.Counted)
}

// Totals counts.
func (s *Study) Totals() (t Totals) {
	for _, o := range s.Outcomes {
		if o.Counted() {
			t.Counted++
			if o.Failed("") {
				t.Found++
			}
		}
	}
	for _, r := range s.rows() {
		t.Judged, t.False = t.Judged+r.judged, t.False+r.false
	}
	return t
}

// rows counts by criterion, in the order of the monitors.
func (s *Study) rows() (list []*row) {
	by := map[string]*row{}
	for _, o := range s.Outcomes {
		for i := range o.Results {
			r := &o.Results[i]
			x := by[r.Name]
			if x == nil {
				x = &row{name: r.Name}
				by[r.Name] = x
				list = append(list, x)
			}
			x.add(o, r)
		}
	}
	return list
}

func (x *row) add(o *Outcome, r *criteria.Result) {
	if o.Case.Kind == Unstable {
		switch {
		case !o.Counted():
		case r.Status == criteria.Failed:
			x.found++
		case r.Status == criteria.Undetermined:
			x.open++
		}
		return
	}
	switch r.Status {
	case criteria.Failed:
		x.judged++
		x.false++
	case criteria.Passed:
		x.judged++
	case criteria.Undetermined:
		x.undetermined++
	case criteria.NotExercised:
		x.idle++
	}
}

// Write writes the study as tables.
func (s *Study) Write(w io.Writer) error {
	var b strings.Builder
	t := s.Totals()
	fmt.Fprintf(&b, "Seed %d: %d stable cases, %d unstable ones.\n\n", s.Options.Seed, s.Options.Stable, s.Options.Unstable)
	fmt.Fprintf(&b, "False alarms: %d of %d criteria that were judged in stable cases (at most 1 in 1000).\n", t.False, t.Judged)
	fmt.Fprintf(&b, "Found: %d of the %d unstable cases that swung beyond the bound for five periods (at least 99 %%).\n\n", t.Found, t.Counted)
	b.WriteString("| criterion | judged | false alarms | undetermined | not exercised | failed in unstable cases |\n")
	b.WriteString("| --- | ---: | ---: | ---: | ---: | ---: |\n")
	for _, r := range s.rows() {
		fmt.Fprintf(&b, "| %s | %d | %d | %d | %d | %d of %d |\n", r.name, r.judged, r.false, r.undetermined, r.idle, r.found, t.Counted)
	}
	b.WriteString("\n| design | stable cases | false alarms | unstable cases | swung | found | by hunting | hours judged |\n")
	b.WriteString("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n")
	for d := range designs {
		s.design(&b, d)
	}
	s.list(&b)
	_, err := io.WriteString(w, b.String())
	return err
}

// design writes the row of one design.
func (s *Study) design(b *strings.Builder, d design) {
	var stable, alarms, unstable, swung, found, hunting int
	hours := 0.0
	for _, o := range s.Outcomes {
		if o.Case.Design != d {
			continue
		}
		hours += float64(o.Steps) * stepS / 3600
		if o.Case.Kind == Stable {
			stable++
			alarms += len(o.FalseAlarms())
			continue
		}
		unstable++
		if !o.Counted() {
			continue
		}
		swung++
		if o.Failed("") {
			found++
		}
		if o.Failed("hunting") {
			hunting++
		}
	}
	fmt.Fprintf(b, "| %v | %d | %d | %d | %d | %d | %d | %.0f |\n", d, stable, alarms, unstable, swung, found, hunting, hours)
}

// list names each false alarm and each miss.
func (s *Study) list(b *strings.Builder) {
	b.WriteByte('\n')
	none := true
	for _, o := range s.Outcomes {
		for _, r := range o.FalseAlarms() {
			none = false
			fmt.Fprintf(b, "- false alarm: %s (%v, spectral radius %.3f): %s by %.4g %s at %.1f s. %s\n",
				o.Case.Name(), o.Case.Design, o.Case.Radius, r.Name, -r.Margin, r.Unit, r.AtS, r.Detail)
		}
		if o.Missed() {
			none = false
			fmt.Fprintf(b, "- missed: %s (%v, spectral radius %.3f), which swung %d times\n",
				o.Case.Name(), o.Case.Design, o.Case.Radius, max(o.Swings, o.SingleSwings))
		}
	}
	if none {
		b.WriteString("No case to list.\n")
	}
}
