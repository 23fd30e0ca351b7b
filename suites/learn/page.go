package learn

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"path/filepath"

	"kilter/suites/fieldlog"
)

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

var page = template.Must(template.New("learned").Parse(pageHTML))

type compared struct{ What, Log, Model, Difference, Scatter string }
type likenessRow struct{ Name, RMS, Share, Native string }
type picture struct {
	Caption string
	SVG     template.HTML
}
type deviceRow struct{ What, Value, Interval, Why string }
type deviceTable struct {
	Name string
	Rows []deviceRow
}

// Page writes what was learned, and how well it reproduces the log, as one self-contained HTML file.
func (r *Result) Page(w io.Writer, p *Replay, cautions []string) error {
	rec := &r.Window.Record
	at := func(n int) string { return r.Log.At(n).Format("2006-01-02 15:04:05 MST") }
	content := struct {
		CSS                       template.CSS
		Log, When, Verdict, Cause string
		Compared                  []compared
		Likeness                  []likenessRow
		Charts                    []picture
		Devices                   []deviceTable
		Between, Window           string
		Findings                  []fieldlog.Finding
		Advice, Cautions          []string
	}{
		CSS: template.CSS(pageCSS), Log: filepath.Base(r.Log.File), Verdict: p.Verdict(), Cause: r.CauseText,
		When:     fmt.Sprintf("%d values, one each %g s, from %s to %s", r.Log.Samples(), r.Log.StepS, at(0), at(r.Log.Samples()-1)),
		Compared: p.compare(), Findings: r.Findings, Advice: r.Advice(), Cautions: cautions, Between: r.between(),
		Window: fmt.Sprintf("Fitted and reproduced is the window in which the inverters move most: %d values from %s to %s.", len(rec.GridW), at(r.Window.From), at(r.Window.To-1)),
	}
	n := len(rec.GridW)
	content.Charts = append(content.Charts, picture{"Grid flow, import positive", chart("grid flow, log and model", []curve{{"log", rec.GridW}, {"model", p.GridW}}, rec.StepS, 0, n)})
	for i, l := range r.Units {
		u := rec.Units[i]
		content.Likeness = append(content.Likeness, likenessRow{l.Name, figure(p.RMSW[i]) + " W", percent(p.Explain[i]), percent(l.Native)})
		content.Charts = append(content.Charts, picture{l.Name + ", charging positive", chart(l.Name+", log and model", []curve{{"log", u.PowerW}, {"model", p.PowerW[i]}}, rec.StepS, 0, n)})
		rest := make([]float64, n)
		for k := range rest {
			rest[k] = u.PowerW[k] - p.PowerW[i][k]
		}
		content.Charts = append(content.Charts, picture{l.Name + ": what the model leaves over", chart(l.Name+", log less model", []curve{{"left", rest}}, rec.StepS, 0, n)})
		content.Devices = append(content.Devices, deviceTable{l.Name, r.rows(i)})
	}
	if from, to := r.closeup(); to-from < n {
		for i, l := range r.Units {
			content.Charts = append(content.Charts, picture{fmt.Sprintf("%s, a closer look at where it moves most", l.Name),
				chart(l.Name+", close-up", []curve{{"log", rec.Units[i].PowerW}, {"model", p.PowerW[i]}}, rec.StepS, from, to)})
		}
	}
	var out bytes.Buffer
	if err := page.Execute(&out, content); err != nil {
		return fmt.Errorf("learned.html: %w", err)
	}
	_, err := w.Write(out.Bytes())
	return err
}

// Verdict says in a sentence or two how good the reproduction is.
func (p *Replay) Verdict() string {
	worst := 1.0
	for _, e := range p.Explain {
		worst = min(worst, e)
	}
	a, b := p.Log.Oscillation, p.Model.Oscillation
	text := fmt.Sprintf("The model explains at least %.0f %% of the variance of each inverter's power in the window. ", 100*max(worst, 0))
	switch {
	case !a.Found:
		text += "The log shows no oscillation that stands out from other movement."
	case !b.Found:
		text += fmt.Sprintf("The log oscillates with a period of %s and an amplitude of %s; the model does not: it does not reproduce the complaint.", seconds(a.PeriodS), watts(a.AmplitudeW))
	default:
		dp, da := b.PeriodS/a.PeriodS-1, b.AmplitudeW/a.AmplitudeW-1
		word := "The model reproduces the oscillation"
		if math.Abs(dp) > 0.05 || math.Abs(da) > 0.15 {
			word = "The model oscillates, but not as the log does"
		}
		text += fmt.Sprintf("%s: period %s for %s, amplitude %s for %s.", word, seconds(b.PeriodS), seconds(a.PeriodS), watts(b.AmplitudeW), watts(a.AmplitudeW))
	}
	if a.Found && !p.Scatter.Swing() {
		why := p.Scatter.Period.Why
		if why == "" {
			why = p.Scatter.Amplitude.Why
		}
		text += fmt.Sprintf(" No scenario can be asked for just this swing: %s.", why)
	}
	return text
}

func (p *Replay) compare() []compared {
	a, b := p.Log, p.Model
	ratio := func(x, y float64) string {
		if x == 0 || math.IsNaN(x) || math.IsNaN(y) {
			return ""
		}
		return fmt.Sprintf("%+.1f %%", 100*(y/x-1))
	}
	scatter := func(e Estimate, unit string) string { return figure(e.Low) + " to " + figure(e.High) + unit }
	list := []compared{}
	if a.Oscillation.Found {
		o, m := a.Oscillation, b.Oscillation
		list = append(list,
			compared{"period of the oscillation", seconds(o.PeriodS), seconds(m.PeriodS), ratio(o.PeriodS, m.PeriodS), scatter(p.Scatter.Period, " s")},
			compared{"amplitude", watts(o.AmplitudeW), watts(m.AmplitudeW), ratio(o.AmplitudeW, m.AmplitudeW), scatter(p.Scatter.Amplitude, " W")},
			compared{"damping ratio", figure(o.Damping), figure(m.Damping), fmt.Sprintf("%+.2g", m.Damping-o.Damping), ""},
			compared{"share of all quick movement", percent(o.Share), percent(m.Share), "", ""})
	}
	return append(list,
		compared{"circulating power, mean", watts(a.CirculatingW), watts(b.CirculatingW), ratio(a.CirculatingW, b.CirculatingW), ""},
		compared{"circulating energy", figure(a.CirculatingWh) + " Wh", figure(b.CirculatingWh) + " Wh", ratio(a.CirculatingWh, b.CirculatingWh), scatter(p.Scatter.CirculatingWh, " Wh")})
}

func seconds(s float64) string {
	if s == 0 {
		return "none"
	}
	return fmt.Sprintf("%.3g s", s)
}
func watts(w float64) string   { return fmt.Sprintf("%.0f W", w) }
func percent(v float64) string { return fmt.Sprintf("%.1f %%", 100*v) }

// rows are one device's figures.
func (r *Result) rows(i int) []deviceRow {
	l, b := r.Units[i], r.Batteries[i]
	var rows []deviceRow
	add := func(what string, e Estimate, unit string) {
		row := deviceRow{What: what, Value: figure(e.Value) + unit, Interval: figure(e.Low) + " to " + figure(e.High) + unit, Why: "yes"}
		if math.IsInf(e.High, 1) && e.Low > 0 {
			row.Interval = "at least " + figure(e.Low) + unit
		}
		if e.Low == e.High {
			row.Interval = ""
		}
		if !e.Identifiable {
			row.Why = "no, left near a default: " + e.Why
		}
		rows = append(rows, row)
	}
	add("largest charging power", l.ChargeLimit, " W")
	add("largest discharging power", l.DischargeLimit, " W")
	add("ramp limit", l.Ramp, " W/s")
	add("dead time, with the meter's latency", l.Dead, " s")
	add("lag", l.Lag, " s")
	add("dead time and lag together", l.Lateness, " s")
	add("loop gain per second", l.Gain, " 1/s")
	add("loop period", l.Period, " s")
	add("meter refresh", l.Refresh, " s")
	add("meter offset against the logged grid flow", l.Offset, " W")
	add("gain x offset, which the drift tells", l.Drive, " W/s")
	add("usable capacity", b.CapacityWh, " Wh")
	add("efficiency there and back", b.Efficiency, "")
	return rows
}

// between says what two inverters' meters are apart, which drives circulating power.
func (r *Result) between() string {
	if len(r.Units) != 2 {
		return ""
	}
	a, b := r.Units[0], r.Units[1]
	d := Difference(a, b)
	rate := a.Gain.Value * b.Gain.Value / (a.Gain.Value + b.Gain.Value) * d.Value
	text := fmt.Sprintf("The two meters' offsets differ by %s W (90 %% from %s to %s W). With both gains that drives the two apart by %s W/s each, until one is at its limit: circulating power.",
		figure(d.Value), figure(d.Low), figure(d.High), figure(rate))
	if !d.Identifiable {
		text += " The log pins down the drift, which is gain times offset, better than either of them."
	}
	return text
}

// Difference is by how much two units' meters differ in offset [W].
func Difference(a, b *Learned) Estimate {
	half := math.Hypot(a.Offset.High-a.Offset.Value, b.Offset.High-b.Offset.Value)
	v := a.Offset.Value - b.Offset.Value
	e := Estimate{Value: v, Low: v - half, High: v + half, Identifiable: half <= 3 && a.Offset.Why == "" && b.Offset.Why == ""}
	if !e.Identifiable {
		e.Why = "the log moves too little, or its values are too far apart"
	}
	return e
}

// closeup is where the inverters move most: about forty periods, or two minutes.
func (r *Result) closeup() (from, to int) {
	rec := &r.Window.Record
	n := len(rec.GridW)
	length := int(120 / rec.StepS)
	if o := r.seen().Oscillation; o.Found {
		length = int(max(20*o.PeriodS, 60) / rec.StepS)
	}
	length = max(length, 30)
	if length >= n {
		return 0, n
	}
	activity := make([]float64, n)
	for _, u := range rec.Units {
		highpass(u.PowerW, max(5, int(60/rec.StepS)), func(i int, w float64) { activity[i] += math.Abs(w) })
	}
	sum, best := 0.0, 0.0
	for i := range n {
		sum += activity[i]
		if i >= length {
			sum -= activity[i-length]
		}
		if i+1 >= length && sum > best {
			best, from = sum, i+1-length
		}
	}
	return from, from + length
}
