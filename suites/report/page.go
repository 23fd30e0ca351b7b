package report

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"math"
	"regexp"
	"runtime/debug"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"kilter/suites/verdict"
)

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

//go:embed page.js
var pageJS string

// policy lets the page run its own script and style, and nothing else; it loads nothing from anywhere.
var policy = fmt.Sprintf("default-src 'none'; style-src 'unsafe-inline'; script-src '%s'; base-uri 'none'; form-action 'none'", hashed(pageJS))

func hashed(script string) string {
	sum := sha256.Sum256([]byte(script))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

// pageFuncs are what the templates of all pages may call.
var pageFuncs = template.FuncMap{
	"css":      func() template.CSS { return template.CSS(pageCSS) },
	"svg":      func(s string) template.HTML { return template.HTML(s) }, // Escaped by drawing.
	"together": together,
	"join":     func(words []string) string { return strings.Join(words, ", ") },
}

var page = template.Must(template.New("page").Funcs(pageFuncs).Funcs(template.FuncMap{
	"script": func() template.JS { return template.JS(pageJS) },
	"policy": func() string { return policy },
}).Parse(pageHTML))

// Style is the style sheet that the report shares with other pages.
func Style() string { return pageCSS }

// Cautions stand on every page.
var Cautions = []string{
	"A bench result is evidence and not proof: it shows what the controller did in this scenario, on this model of a site, and nothing more. It certifies nothing and claims compliance with no standard.",
	"Work on mains wiring and on protection settings belongs to licensed people and to the local codes.",
	"Never point the bench's writes at real equipment.",
}

// Page writes the report of one run as one self-contained HTML file. A
// series without rows gives a page without plots that says so, and a wiring
// without a name one without the site.
func Page(w io.Writer, run verdict.Run, series Series, site Wiring) error {
	series, err := series.prepared()
	if err != nil {
		return err
	}
	var buffer bytes.Buffer
	if err := page.Execute(&buffer, newContent(run, series, site)); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	_, err = w.Write(buffer.Bytes())
	return err
}

// content is what the template shows.
type content struct {
	Title, Word, Class, Sentence string
	Facts                        []fact
	Criteria                     []row
	Failures                     []failure
	Happenings                   []happening
	Figures                      []figure
	NoPlots                      bool
	Record                       *record
	Wide, Narrow                 string // the site's diagram
	Site                         Wiring
	Audit                        []fact
	Reproduce                    string
	Cautions                     []string
}

type fact struct {
	Name, Value string
	Code        bool
}

// row is one line of the table of criteria.
type row struct {
	Letter                               string // Of a failure, else empty.
	Name, Status, Class, Detail, Formula string
	Observed, Limit, Margin, When, Local string
	First                                string // when it was first broken, where that is another time
	Sentence                             string // what a criterion of the scenario's own words asks
	Bar                                  template.HTML
}

type failure struct {
	row
	Trace     string
	Told      string
	Avoidable string
	Cause     *cause
	Clauses   []row
	Reproduce string
	Figures   []figure
}

type happening struct{ Sign, When, Local, Label, Kind string }

func newContent(run verdict.Run, series Series, site Wiring) content {
	// The record takes as long as all the plots together.
	recorded := make(chan *record, 1)
	go func() { recorded <- newRecord(series) }()
	title := cmp.Or(run.Title, run.Scenario)
	c := content{Title: title, Sentence: sentence(run, series.StartLocal), Site: site, Reproduce: run.Reproduce,
		Facts: facts(run), Audit: audit(run), Cautions: cautions(run.Cautions)}
	c.Word, c.Class = headline(run)

	failures := run.Failures()
	o := overview{series: series, colour: newPalette(series.Columns), flags: flagsOf(series.happenings(), failures)}
	failed := 0
	for _, criterion := range run.Criteria {
		r := newRow(criterion, series.StartLocal)
		if criterion.Status == verdict.Failed {
			r.Letter = letter(failed)
			failed++
			c.Failures = append(c.Failures, failure{row: r, Trace: criterion.Look(), Reproduce: run.Reproduce,
				Told: series.toldThen(criterion), Avoidable: avoidable(criterion),
				Cause: newCause(criterion.Cause, series.StartLocal), Clauses: clausesOf(criterion, series.StartLocal),
				Figures: o.closeups(criterion, r.Letter)})
		}
		c.Criteria = append(c.Criteria, r)
	}
	for i, m := range series.happenings() {
		c.Happenings = append(c.Happenings, happening{sign(i), verdict.Moment(m.AtS), local(series.StartLocal, m.AtS),
			m.Label, string(m.Kind)})
	}
	c.Figures = o.figures()
	c.NoPlots = len(c.Figures) == 0
	c.Record = <-recorded
	if site.Name != "" {
		c.Wide, c.Narrow = Diagram(site, false)
	}
	return c
}

// cautions are a run's own, and those of every page that are not among them.
func cautions(own []string) []string {
	all := slices.Clone(own)
	for _, c := range Cautions {
		if !slices.Contains(own, c) {
			all = append(all, c)
		}
	}
	return all
}

func newRow(c verdict.Criterion, start time.Time) row {
	r := row{Name: c.Title(), Status: c.Status.Words(), Class: string(c.Status), Detail: c.Detail, Formula: c.Formula,
		Observed: figureOrDash(c.Observed, verdict.QuantityBeside(c.Observed, c.Limit, c.Unit)),
		Limit:    figureOrDash(c.Limit, strings.ReplaceAll(c.LimitText(), " -", " −")),
		Margin:   figureOrDash(c.Margin, signed(c.Margin, c.Unit)),
		When:     "–", Bar: bar(c)}
	if strings.HasPrefix(c.Name, "formula.") {
		r.Sentence, r.Formula = c.Formula, ""
		r.Detail = strings.TrimSuffix(strings.TrimSuffix(c.Detail, c.Formula), ": ") // which stands beside it
	}
	if at, known := c.AtS.Value(); known {
		r.When, r.Local = verdict.Moment(at), local(start, at)
		if first, known := c.FirstS.Value(); known && first != at {
			r.First = when(start, first)
		}
	}
	return r
}

// clausesOf are a criterion's clauses where there are several, each with a margin of its own.
func clausesOf(c verdict.Criterion, start time.Time) []row {
	if len(c.Clauses) < 2 {
		return nil
	}
	var rows []row
	for _, x := range c.Clauses {
		rows = append(rows, newRow(verdict.Criterion{Name: x.Name, Status: x.Status, Unit: x.Unit, Bound: x.Bound, Formula: x.Formula,
			Margin: x.Margin, Observed: x.Observed, Limit: x.Limit, AtS: x.AtS}, start))
	}
	return rows
}

// avoidable says whether the batteries could have prevented a failure.
func avoidable(c verdict.Criterion) string {
	switch {
	case c.Avoidable == nil:
		return ""
	case *c.Avoidable:
		return "yes: at that moment the batteries could have kept the limit"
	}
	return "no: at that moment no use of the batteries would have kept the limit"
}

func figureOrDash(n verdict.Number, text string) string {
	if !n.Known() {
		return "–"
	}
	return Minus(text)
}

// together keeps a figure and its unit on one line, and a short text as a
// whole.
func together(text string) string {
	if utf8.RuneCountInString(text) > 24 {
		return figureAndUnit.ReplaceAllString(text, "$1\u00a0$2")
	}
	return strings.ReplaceAll(text, " ", "\u00a0")
}

var figureAndUnit = regexp.MustCompile(`(\d) ([^\d\s])`)

// Minus sets a figure's sign as people write it, and leaves an exponent's
// alone.
func Minus(text string) string {
	if rest, negative := strings.CutPrefix(text, "-"); negative {
		return "−" + rest
	}
	return text
}

// signed returns a margin with its sign always shown, since the sign is the
// verdict.
func signed(n verdict.Number, unit string) string {
	text := verdict.Quantity(n, unit)
	if v, _ := n.Value(); v > 0 {
		return "+" + text
	}
	return text
}

func local(start time.Time, s float64) string {
	if start.IsZero() || math.Abs(s) > 1e9 { // Thirty years on, the time is a mistake.
		return ""
	}
	return localAt(start, s).Format("15:04:05")
}

// share returns the margin relative to the limit, or to the observed figure
// where the limit is zero: what tells a near miss from a rout.
func share(c verdict.Criterion) (float64, bool) {
	margin, known := c.Margin.Value()
	if !known {
		return 0, false
	}
	limit, _ := c.Limit.Value()
	observed, _ := c.Observed.Value()
	base := math.Abs(limit)
	if base == 0 {
		base = math.Abs(observed)
	}
	if base == 0 {
		return math.Copysign(1, margin), margin != 0
	}
	return margin / base, true
}

const barWidth, barHeight = 80.0, 10.0

// bar draws the margin's share of the limit: to the right of the middle what
// is left, to the left what is missing. It is full at the limit's own size.
func bar(c verdict.Criterion) template.HTML {
	part, known := share(c)
	if !known {
		return ""
	}
	part = math.Max(-1, math.Min(1, part))
	var d drawing
	d.open(barWidth, barHeight, fmt.Sprintf("margin %.0f %% of the limit", 100*part))
	length := math.Max(math.Abs(part)*barWidth/2, 1)
	if part < 0 {
		d.rect("less", barWidth/2-length, 2, length, barHeight-4)
	} else {
		d.rect("more", barWidth/2, 2, length, barHeight-4)
	}
	d.line("zero", barWidth/2, 0, barWidth/2, barHeight)
	d.close()
	return template.HTML(d.String())
}

func facts(run verdict.Run) []fact {
	all := []fact{{Name: "Scenario", Value: run.Scenario}, {Name: "Site", Value: run.Site},
		{Name: "Controller", Value: run.Controller}, {Name: "Starts (local)", Value: run.StartedLocal}}
	if s, known := run.DurationS.Value(); known {
		all = append(all, fact{Name: "Lasts", Value: verdict.Moment(s) + " h:min:s"})
	}
	if run.StepMS.Known() {
		all = append(all, fact{Name: "Step", Value: run.StepMS.String() + " ms"})
	}
	all = append(all, fact{Name: "Pace", Value: run.Pace}, fact{Name: "Seed", Value: fmt.Sprint(run.Seed)})
	return slices.DeleteFunc(all, func(f fact) bool { return f.Value == "" })
}

// askedBy says what a controller asked.
func askedBy(c verdict.WireController) string {
	text := fmt.Sprintf("%d polls", c.Polls)
	if n, known := c.PollsPerHour.Value(); known {
		text += fmt.Sprintf(" (%.0f an hour)", n)
	}
	text += fmt.Sprintf(", %d reads, %d writes, %d exceptions, %d unanswered, %d retries", c.Reads, c.Writes, c.Exceptions, c.Unanswered, c.Retries)
	if c.SmallestGapS.Known() {
		text += ", the smallest gap at one device " + verdict.Quantity(c.SmallestGapS, "s")
	}
	for i, d := range c.Devices {
		sign := "; "
		if i == 0 {
			sign = ". "
		}
		text += fmt.Sprintf("%s%s: %d reads, %d writes", sign, d.Device, d.Reads, d.Writes)
	}
	return text + "."
}

// asked says what was asked of a device.
func asked(d verdict.WireDevice) string {
	text := fmt.Sprintf("%d reads, %d writes, %d exceptions, %d unanswered, %d retries", d.Reads, d.Writes, d.Exceptions, d.Unanswered, d.Retries)
	if n, known := d.PerHour.Value(); known {
		text += fmt.Sprintf(", %.0f requests an hour", n)
	}
	if d.SmallestGapS.Known() {
		text += ", the smallest gap " + verdict.Quantity(d.SmallestGapS, "s")
	}
	return text + "."
}

// punctual says how well the plant kept its pace.
func punctual(p *verdict.Pacing) string {
	return fmt.Sprintf("the plant's steps of %s ms began %s ms late (p50), %s ms (p99), %s ms at worst",
		p.StepMS, p.LateP50MS, p.LateP99MS, p.LateWorstMS)
}

// madeBy says what judged and drew: two reports that differ can then be told apart.
func madeBy() string {
	text := fmt.Sprintf("kilter, verdict format %d", verdict.Format)
	info, known := debug.ReadBuildInfo()
	if !known {
		return text
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			text += ", revision " + s.Value
		}
	}
	return text + ", " + info.GoVersion
}

func audit(run verdict.Run) []fact {
	a := run.Audit
	where := ""
	if a.WorstNode != "" {
		where = " at " + a.WorstNode
	}
	if at, known := a.WorstAtS.Value(); known {
		where += ", " + verdict.Moment(at)
	}
	allowed := func(n verdict.Number, unit string) string {
		if !n.Known() {
			return ""
		}
		return " (allowed: " + verdict.Quantity(n, unit) + ")"
	}
	all := []fact{
		{Name: "Largest power imbalance of any node", Value: verdict.Quantity(a.WorstNodeW, "W") + where + allowed(a.LimitW, "W")},
		{Name: "Energy residual of the run", Value: Minus(verdict.Quantity(a.EnergyResidualWh, "Wh")) + allowed(a.LimitWh, "Wh")},
	}
	if w := run.Wire; w != nil {
		text := fmt.Sprintf("%d reads, %d writes, %d exceptions, %d waits", w.Reads, w.Writes, w.Exceptions, w.Waits)
		if s, known := w.LongestWaitS.Value(); known {
			text += ", the longest of " + verdict.Moment(s) + " h:min:s"
		}
		all = append(all, fact{Name: "On the wire", Value: strings.Join(append([]string{text}, w.Notes...), ". ") + "."})
		for _, c := range w.Controllers {
			all = append(all, fact{Name: "Asked by " + c.Controller, Value: askedBy(c)})
		}
		for _, d := range w.Devices {
			all = append(all, fact{Name: "Asked of " + d.Device, Value: asked(d)})
		}
	}
	if p := run.Pacing; p != nil {
		text := punctual(p) + "."
		if p.Note != "" {
			text += " " + strings.ToUpper(p.Note[:1]) + p.Note[1:] + "."
		}
		all = append(all, fact{Name: "Pace on the wall clock", Value: text})
	}
	return append(all, fact{"SHA-256 of the trace", cmp.Or(run.TraceSHA256, "none"), true}, fact{Name: "Seed", Value: fmt.Sprint(run.Seed)},
		fact{Name: "Made by", Value: madeBy()})
}
