package fieldlog

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Log is a log as its map says it is to be read: powers in W over an even axis of time, what flows into a device or into the
// site positive.
type Log struct {
	File     string
	Start    time.Time // of the first sample; in the year 1970 where the log has no dates
	StepS    float64
	Grid     Signal
	Load     *Signal // nil where it was not logged
	Solar    *Signal
	Units    []UnitLog
	Findings []Finding
	GapS     float64 // longest time without grid or inverter power
}

// Signal is one quantity.
type Signal struct {
	Name        string
	Values      []float64 // at each step; NaN where missing
	EveryS      float64   // how far apart its values were logged
	ResolutionW float64   // smallest difference between two values, as logged
	Counter     bool      // from an energy counter: means over what lies between two values
}

// UnitLog is what was logged of one inverter.
type UnitLog struct {
	Name    string
	Power   Signal
	SOC     *Signal // [1]
	Command *Signal
}

// Samples is the length of the log.
func (l *Log) Samples() int { return len(l.Grid.Values) }

// maxSamples bounds the even axis.
const maxSamples = 4 << 20

// Apply reads a table as a confirmed map says.
func Apply(t *Table, m *Map) (*Log, error) {
	at, err := t.moments(&m.Time)
	if err != nil {
		return nil, err
	}
	order, err := t.sorted(at, m)
	if err != nil {
		return nil, err
	}
	a := applying{t: t, at: at, order: order}
	l := &Log{File: t.File}
	type wanted struct {
		name, kind string
		parts      []Part
		to         **Signal
	}
	var grid *Signal
	list := []wanted{{"grid", "grid", m.Grid, &grid}, {"load", "load", m.Load, &l.Load}, {"solar", "solar", m.Solar, &l.Solar}}
	l.Units = make([]UnitLog, len(m.Units))
	powers := make([]*Signal, len(m.Units))
	for i, u := range m.Units {
		l.Units[i].Name = u.Name
		list = append(list, wanted{u.Name, "power", u.Power, &powers[i]}, wanted{u.Name + " soc", "soc", u.SOC, &l.Units[i].SOC},
			wanted{u.Name + " command", "command", u.Command, &l.Units[i].Command})
	}
	var laid [][]trail
	stepS, first, last := 0.0, math.Inf(-1), math.Inf(1)
	for _, w := range list {
		var trails []trail
		for _, p := range w.parts {
			tr, err := a.trail(p, w.kind)
			if err != nil {
				return nil, err
			}
			trails = append(trails, tr)
			if w.kind == "grid" || w.kind == "power" {
				stepS = max(stepS, tr.everyS)
				first, last = max(first, tr.at[0]), min(last, tr.at[len(tr.at)-1])
			}
		}
		laid = append(laid, trails)
	}
	stepS = max(math.Round(stepS*10)/10, 0.1)
	n := int((last-first)/stepS) + 1
	switch {
	case !(last > first) || n < 30:
		return nil, bad(t.File, 0, "", fmt.Sprintf("%d moments at which grid and inverters are both known", max(n, 0)), "at least 30", "")
	case n > maxSamples:
		return nil, bad(t.File, 0, "", fmt.Sprintf("moments from %s to %s", clock(first), clock(last)), fmt.Sprintf("at most %d steps of %g s", maxSamples, stepS), "a date far from the others?")
	}
	for i, w := range list {
		if len(laid[i]) > 0 {
			s := lay(laid[i], first, stepS, n)
			s.Name = w.name
			*w.to = s
		}
	}
	l.Grid, l.StepS = *grid, stepS
	for i := range powers {
		l.Units[i].Power = *powers[i]
	}
	zone, _ := time.LoadLocation(m.Time.Zone)
	l.Start = time.UnixMilli(int64(math.Round(first * 1000))).In(zone)
	l.Findings = t.Findings
	l.gaps()
	return l, nil
}

func clock(s float64) string {
	return time.UnixMilli(int64(s * 1000)).UTC().Format("2006-01-02 15:04:05")
}

// sorted gives the rows in the order of time, without doubles.
func (t *Table) sorted(at []float64, m *Map) ([]int32, error) {
	order := make([]int32, 0, len(at))
	last, back, firstBack := math.Inf(-1), 0, 0
	for i, s := range at {
		if math.IsNaN(s) {
			continue
		}
		if s < last {
			if back++; back == 1 {
				firstBack = i
			}
			if hour := last - s; hour > 3000 && hour < 3700 && m.Time.Zone == "UTC" && hourBack(at, i) {
				return nil, bad(t.File, t.line(i), m.Time.Column, "a clock that goes back by an hour, as at the end of daylight saving", "the zone of its clock in the map: time: {zone: ...}",
					"an IANA zone such as Europe/Oslo")
			}
		}
		last = s
		order = append(order, int32(i))
	}
	if back > 0 {
		slices.SortStableFunc(order, func(a, b int32) int {
			switch {
			case at[a] < at[b]:
				return -1
			case at[a] > at[b]:
				return 1
			}
			return 0
		})
		t.note(Note, fmt.Sprintf("line %d", t.line(firstBack)), fmt.Sprintf("%s earlier than the row above, this the first; sorted", counted(back, "row")))
	}
	doubles, firstDouble := 0, 0
	for k := 1; k < len(order); k++ {
		if at[order[k]] == at[order[k-1]] {
			if doubles++; doubles == 1 {
				firstDouble = int(order[k])
			}
		}
	}
	if doubles > 0 {
		t.note(Note, fmt.Sprintf("line %d", t.line(firstDouble)), fmt.Sprintf("%s with the time of another, this the first; each column takes its last value", counted(doubles, "row")))
	}
	return order, nil
}

// hourBack says whether the clock stays back after row i, and is no single late row.
func hourBack(at []float64, i int) bool {
	stays := 0
	for k := i; k < min(len(at), i+10); k++ {
		if k > 0 && at[k] < at[i-1] {
			stays++
		}
	}
	return stays >= min(8, len(at)-i)
}

// trail is one column in W over its own moments.
type trail struct {
	at, w      []float64
	everyS     float64
	resolution float64
	counter    bool
}

type applying struct {
	t     *Table
	at    []float64
	order []int32
}

func (a *applying) trail(p Part, kind string) (trail, error) {
	c := a.t.Find(p.Column)
	if c == nil {
		return trail{}, bad(a.t.File, 1, kind, "no column "+quoted(p.Column), "one of "+a.t.names(), "")
	}
	if c.Values == nil {
		return trail{}, bad(a.t.File, a.t.line(0), p.Column, "texts such as "+quoted(c.Texts[0]), "numbers", "")
	}
	u := unitWords[strings.ToLower(p.Unit)]
	sign := signWords[kind][p.Positive] * u.scale
	tr := trail{counter: strings.HasSuffix(u.unit, "Wh")}
	for _, row := range a.order {
		v := c.Values[row]
		if math.IsNaN(v) {
			continue
		}
		s := a.at[row] - p.Late.Seconds()
		if n := len(tr.at); n > 0 && tr.at[n-1] == s {
			tr.w[n-1] = v * sign
			continue
		}
		tr.at, tr.w = append(tr.at, s), append(tr.w, v*sign)
	}
	if len(tr.at) < 10 {
		return trail{}, bad(a.t.File, 0, p.Column, fmt.Sprintf("%d values", len(tr.at)), "at least 10", "")
	}
	if tr.counter {
		a.count(&tr, p.Column)
		if len(tr.at) < 10 {
			return trail{}, bad(a.t.File, 0, p.Column, fmt.Sprintf("a counter that makes %d powers", len(tr.at)), "one that rises, and makes at least 10", "")
		}
	}
	tr.everyS = median(differences(tr.at))
	tr.resolution = resolution(tr.w)
	return tr, nil
}

// count turns a counter into mean powers, each in the middle of what it is the mean of. A counter that goes back was reset.
func (a *applying) count(tr *trail, name string) {
	up := 0
	for k := 1; k < len(tr.w); k++ {
		if tr.w[k] > tr.w[k-1] {
			up++
		} else if tr.w[k] < tr.w[k-1] {
			up--
		}
	}
	turn := 1.0
	if up < 0 { // counted against the load convention: it falls all along
		turn = -1
	}
	at, w := []float64{}, []float64{}
	resets, first := 0, 0.0
	from := 0
	for k := 1; k < len(tr.w); k++ {
		d := (tr.w[k] - tr.w[from]) * turn
		dt := tr.at[k] - tr.at[from]
		if d < 0 {
			if resets++; resets == 1 {
				first = tr.at[k]
			}
			from = k
			continue
		}
		at, w = append(at, (tr.at[from]+tr.at[k])/2), append(w, turn*d*3600/dt)
		from = k
	}
	if resets > 0 {
		a.t.note(Warning, name, fmt.Sprintf("the counter goes back %s, first at %s; taken as a reset, and the power as unknown there", counted(resets, "time"), clock(first)))
	}
	tr.at, tr.w = at, w
}

// lay sums trails on an even axis. Between values that are too far apart nothing is known.
func lay(trails []trail, first, stepS float64, n int) *Signal {
	s := &Signal{Values: make([]float64, n)}
	for _, tr := range trails {
		s.EveryS, s.ResolutionW = max(s.EveryS, tr.everyS), max(s.ResolutionW, tr.resolution)
		s.Counter = s.Counter || tr.counter
		far := max(2.5*tr.everyS, 1.5*stepS)
		k := 0
		for i := range s.Values {
			t := first + float64(i)*stepS
			for k+1 < len(tr.at) && tr.at[k+1] <= t+1e-6 {
				k++
			}
			v := math.NaN()
			switch {
			case math.Abs(tr.at[k]-t) < 1e-3:
				v = tr.w[k]
			case t < tr.at[k]:
			case k+1 < len(tr.at) && tr.at[k+1]-tr.at[k] <= far:
				v = tr.w[k] + (tr.w[k+1]-tr.w[k])*(t-tr.at[k])/(tr.at[k+1]-tr.at[k])
			case k+1 == len(tr.at) && t-tr.at[k] < tr.everyS:
				v = tr.w[k]
			}
			s.Values[i] += v
		}
	}
	return s
}

func (l *Log) gaps() {
	run, longest, at, missing := 0, 0, 0, 0
	for i := range l.Grid.Values {
		is := math.IsNaN(l.Grid.Values[i])
		for _, u := range l.Units {
			is = is || math.IsNaN(u.Power.Values[i])
		}
		if !is {
			run = 0
			continue
		}
		missing++
		if run++; run > longest {
			longest, at = run, i
		}
	}
	if missing > 0 {
		l.GapS = float64(longest) * l.StepS
		from := l.At(at - longest + 1)
		l.Findings = append(l.Findings, Finding{Note, "", fmt.Sprintf("%.1f %% of the time grid or inverter power is unknown; the longest gap of %s begins at %s",
			100*float64(missing)/float64(l.Samples()), span(l.GapS), from.Format("2006-01-02 15:04:05"))})
	}
}

// At is the moment of a sample.
func (l *Log) At(sample int) time.Time {
	return l.Start.Add(time.Duration(float64(sample) * l.StepS * float64(time.Second)))
}

func span(s float64) string {
	return time.Duration(s * float64(time.Second)).Round(100 * time.Millisecond).String()
}

// counted is a number of things.
func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func quoted(s string) string { return fmt.Sprintf("%q", s) }

func differences(v []float64) []float64 {
	out := make([]float64, 0, len(v))
	for i := 1; i < len(v); i++ {
		if d := v[i] - v[i-1]; !math.IsNaN(d) {
			out = append(out, d)
		}
	}
	return out
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	if len(v) > 20001 { // a sample is enough
		stride := len(v) / 10000
		var some []float64
		for i := 0; i < len(v); i += stride {
			some = append(some, v[i])
		}
		v = some
	}
	v = slices.Clone(v)
	slices.Sort(v)
	return v[len(v)/2]
}

// resolution is the smallest distance between two values.
func resolution(v []float64) float64 {
	some := slices.Clone(v[:min(len(v), 20_000)])
	slices.Sort(some)
	least, width := math.Inf(1), some[len(some)-1]-some[0]
	for i := 1; i < len(some); i++ {
		if d := some[i] - some[i-1]; d > 1e-6*width {
			least = min(least, d)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}
