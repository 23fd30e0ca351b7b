package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"

	"kilter/suites/verdict"
)

//go:embed summary.html
var summaryHTML string

var summaryPage = template.Must(template.New("summary").Funcs(pageFuncs).Parse(summaryHTML))

// Summary writes a page on all runs of a check, with a link to the page of each: what link answers for it.
func Summary(w io.Writer, v verdict.Verdict, link func(verdict.Run) string) error {
	s := summary{Cautions: Cautions, Heat: newHeat(v.Runs, link)}
	told := map[string]bool{}
	passed := 0
	for _, run := range v.Runs {
		if told[run.Scenario] {
			continue
		}
		told[run.Scenario] = true
		block := newBlock(v, v.Of(run.Scenario), link)
		if block.Class == string(verdict.Passed) {
			passed++
		}
		s.Scenarios = append(s.Scenarios, block)
	}
	s.Word, s.Class = "failed", "failed"
	if v.Passed {
		s.Word, s.Class = "passed", "passed"
	}
	s.Count = verdict.Counted(len(told), "scenario") + ", " + verdict.Counted(len(v.Runs), "run")
	s.Sentence = fmt.Sprintf("%d of %d passed%s.", passed, len(told), map[bool]string{true: " on every seed"}[len(v.Seeds) > 0])
	var buffer bytes.Buffer
	if err := summaryPage.Execute(&buffer, s); err != nil {
		return fmt.Errorf("summary: %w", err)
	}
	_, err := w.Write(buffer.Bytes())
	return err
}

// summary is what the template shows.
type summary struct {
	Word, Class, Count, Sentence string
	Heat                         *heat
	Scenarios                    []block
	Cautions                     []string
}

// block is one scenario.
type block struct {
	Name, Title, Word, Class, Seeds, Link string
	Several                               bool
	Troubles                              []string // runs that could not be judged to their end
	Rows                                  []overSeeds
	Runs                                  []seedLink
}

// overSeeds is one criterion over the seeds.
type overSeeds struct{ Name, Verdict, Class, Limit, Worst, Median, Seed, Link, Strip string }

type seedLink struct{ Seed, Link, Class string }

func newBlock(v verdict.Verdict, runs []verdict.Run, link func(verdict.Run) string) block {
	first := runs[0]
	sums, several := v.OverSeeds(first.Scenario)
	b := block{Name: first.Scenario, Title: first.Title, Several: several}
	if !several {
		sums = verdict.SumUp(runs)
		b.Link = link(first)
		b.Word, b.Class = headline(first)
	} else {
		b.Word, b.Class = headlineOf(sums)
		b.Seeds = spanOf(sums.Seeds)
	}
	for _, run := range runs {
		x := seedLink{Seed: fmt.Sprint(run.Seed), Link: link(run)}
		if !run.Passed {
			x.Class = "bad"
		}
		b.Runs = append(b.Runs, x)
		if run.Error != nil {
			b.Troubles = append(b.Troubles, fmt.Sprintf("Seed %d: %s", run.Seed, sentence(run, noStart)))
		}
	}
	for _, o := range sums.Criteria {
		worst := worstRun(o, runs)
		c := find(worst, o)
		b.Rows = append(b.Rows, overSeeds{
			Name: o.Title(), Verdict: tallied(o), Class: string(o.Status()),
			Limit: figureOrDash(c.Limit, c.LimitText()), Worst: figureOrDash(o.WorstMargin, signed(o.WorstMargin, o.Unit)),
			Median: figureOrDash(o.MedianMargin, signed(o.MedianMargin, o.Unit)),
			Seed:   fmt.Sprint(worst.Seed), Link: link(worst), Strip: strip(o, runs),
		})
	}
	return b
}

// headlineOf is the headline of a scenario over its seeds.
func headlineOf(s verdict.Seeds) (word, class string) {
	switch {
	case !s.Passed:
		return "failed", "failed"
	case settled(s) == 0:
		return "nothing shown", "undetermined"
	}
	return "passed", "passed"
}

const stripWidth, stripHeight = 160.0, 14.0

// strip draws the margins of all seeds as shares of the limit. Marks that fall together lie one over the other, and
// show as darker.
func strip(o verdict.OverSeeds, runs []verdict.Run) string {
	var d drawing
	d.open(stripWidth, stripHeight, "margins of "+verdict.Counted(len(runs), "seed")+", the worst "+signed(o.WorstMargin, o.Unit))
	middle := stripHeight / 2
	d.line("grid", 0, middle, stripWidth, middle)
	d.line("zero", stripWidth/2, 0, stripWidth/2, stripHeight)
	for _, run := range runs {
		c := find(run, o)
		part, known := share(c)
		if !known {
			continue
		}
		x := stripWidth/2 + float64(math.Max(-1, math.Min(1, part))*(stripWidth/2-5))
		if c.Status == verdict.Failed {
			d.cross("moment", x, middle, 4)
		} else {
			d.ring("held", x, middle, 3.5)
		}
	}
	d.close()
	return d.String()
}

func (d *drawing) cross(class string, x, y, r float64) {
	d.line(class, x-r, y-r, x+r, y+r)
	d.line(class, x-r, y+r, x+r, y-r)
}

func (d *drawing) ring(class string, x, y, r float64) {
	fmt.Fprintf(d, `<circle class="%s ring" cx="%s" cy="%s" r="%s"/>`, class, number(x), number(y), number(r))
}
