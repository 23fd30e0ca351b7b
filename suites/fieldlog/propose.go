package fieldlog

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Proposal is a map that was made from a log, with the reason of each choice.
type Proposal struct {
	Map    Map
	why    map[string]string // by column
	open   []string          // what the log does not tell
	unused []string
}

// kindWords are what people call what; the first that fits decides.
var kindWords = []struct {
	kind  string
	words []string
}{
	{"soc", []string{"soc", "charge_level", "state_of_charge", "ladestand", "level"}},
	{"command", []string{"command", "cmd", "setpoint", "set_point", "sollwert", "soll", "requested"}},
	{"irradiance", []string{"irradiance", "ghi", "psp", "pyranometer"}},
	{"solar", []string{"pv", "solar", "sun", "panels", "panel", "array", "roof", "sol"}},
	{"load", []string{"load", "house", "home", "consumption", "demand", "verbrauch", "last", "usage"}},
	{"grid", []string{"grid", "mains", "inlet", "utility", "netz", "import", "export", "supply", "nett", "main_meter", "pcc"}},
	{"power", []string{"battery", "batterie", "batt", "bat", "inverter", "inv", "storage", "akku", "batteri", "accu", "ess"}},
}

// nounless are words that say nothing about whose column it is.
var nounless = []string{"power", "p", "w", "kw", "mw", "watt", "watts", "kwh", "wh", "soc", "command", "cmd", "setpoint", "active", "ac", "value", "mean", "level",
	"leistung", "effekt", "pct", "percent", "sollwert", "soll", "state", "of", "charge", "total", "energy", "the", "requested", "set", "point", "in", "import", "export"}

// Propose makes a map of a table.
func Propose(t *Table) (*Proposal, error) {
	p := &Proposal{why: map[string]string{}}
	if err := p.time(t); err != nil {
		return nil, err
	}
	units := map[string]int{}
	var unsure []*Column
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Name == p.Map.Time.Column || c.Name == p.Map.Time.Clock {
			continue
		}
		if c.Values == nil || len(c.Values)-c.Missing < 10 || flat(c.Values) {
			p.unused = append(p.unused, c.Name)
			continue
		}
		kind, word := kindOf(c.Name)
		if kind == "" && (c.Unit == "" || unitWords[strings.ToLower(c.Unit)].unit == "W" || unitWords[strings.ToLower(c.Unit)].unit == "kW") {
			unsure = append(unsure, c)
			continue
		}
		p.take(c, kind, fmt.Sprintf("its name has %q", word), units)
	}
	p.sort(t, unsure, units)
	p.signs(t)
	if len(p.Map.Grid) == 0 {
		return nil, bad(t.File, 1, "", "no column that looks like the grid flow among "+t.names(), "one",
			"write a column map by hand: kilter learn --help shows one")
	}
	if len(p.Map.Units) == 0 {
		return nil, bad(t.File, 1, "", "no column that looks like an inverter's power among "+t.names(), "at least one", "write a column map by hand: kilter learn --help shows one")
	}
	return p, nil
}

// tokens splits a name into small words.
func tokens(name string) []string {
	if i := strings.IndexAny(name, "[("); i > 0 {
		name = name[:i]
	}
	var b strings.Builder
	small := false
	for _, r := range name {
		up := r >= 'A' && r <= 'Z'
		if up && small {
			b.WriteByte('_')
		}
		small = r >= 'a' && r <= 'z'
		switch {
		case up:
			b.WriteRune(r + 'a' - 'A')
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		default:
			b.WriteByte('_')
		}
	}
	return strings.FieldsFunc(b.String(), func(r rune) bool { return r == '_' })
}

func kindOf(name string) (kind, word string) {
	list := tokens(name)
	joined := strings.Join(list, "_")
	for _, k := range kindWords {
		for _, w := range k.words {
			if slices.Contains(list, w) || strings.Contains(w, "_") && strings.Contains(joined, w) {
				return k.kind, w
			}
			for _, t := range list { // batt1, pv2
				if rest, is := strings.CutPrefix(t, w); is && len(w) > 1 && strings.Trim(rest, "0123456789") == "" {
					return k.kind, w
				}
			}
		}
	}
	return "", ""
}

// owner is the inverter's name that a column's name leaves when the words for what it is are taken off.
func owner(name string) string {
	var left []string
	for _, t := range tokens(name) {
		if !slices.Contains(nounless, t) {
			left = append(left, t)
		}
	}
	s := strings.Join(left, "_")
	if s == "" || s[0] >= '0' && s[0] <= '9' {
		s = "inverter_" + s
	}
	return strings.TrimSuffix(s, "_")
}

func (p *Proposal) take(c *Column, kind, why string, units map[string]int) {
	part := Part{Column: c.Name, Unit: c.Unit}
	p.why[c.Name] = why
	if part.Unit == "" {
		part.Unit = p.guessUnit(c, kind)
	}
	unit := func() *UnitMap {
		name := owner(c.Name)
		at, is := units[name]
		if !is {
			at = len(p.Map.Units)
			units[name] = at
			p.Map.Units = append(p.Map.Units, UnitMap{Name: name})
		}
		return &p.Map.Units[at]
	}
	switch kind {
	case "grid":
		p.Map.Grid = append(p.Map.Grid, part)
	case "load":
		p.Map.Load = append(p.Map.Load, part)
	case "solar":
		p.Map.Solar = append(p.Map.Solar, part)
	case "soc":
		u := unit()
		u.SOC = append(u.SOC, part)
	case "command":
		u := unit()
		u.Command = append(u.Command, part)
	case "power":
		u := unit()
		u.Power = append(u.Power, part)
	default:
		p.unused = append(p.unused, c.Name)
	}
}

// guessUnit tells kW from W, and % from a share, by the size of the values.
func (p *Proposal) guessUnit(c *Column, kind string) string {
	most := 0.0
	for _, v := range c.Values {
		if known(v) {
			most = max(most, math.Abs(v))
		}
	}
	unit, text := "W", "they reach"
	switch {
	case kind == "soc" && most <= 1.001:
		unit = "1"
	case kind == "soc":
		unit = "%"
	case most < 60:
		unit, text = "kW", "they reach only"
	}
	p.why[c.Name] += fmt.Sprintf("; no unit is named, %s by its values: %s %.4g", unit, text, most)
	return unit
}

func flat(v []float64) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		if known(x) {
			low, high = min(low, x), max(high, x)
		}
	}
	return !(high > low)
}

// sort finds the kinds of columns whose names say nothing.
func (p *Proposal) sort(t *Table, unsure []*Column, units map[string]int) {
	if len(p.Map.Grid) == 0 && len(unsure) >= 2 {
		if at, miss := p.sumOf(t, unsure); at >= 0 {
			p.take(unsure[at], "grid", fmt.Sprintf("power balance: it moves by what the others move, each within %.0f %%, as of none else", miss*100), units)
			unsure = slices.Delete(slices.Clone(unsure), at, at+1)
		}
	}
	for _, c := range unsure {
		if !c.mixedSign() {
			p.take(c, "solar", "it never changes its sign, and its name says nothing", units)
			p.open = append(p.open, fmt.Sprintf("%q may be PV or a load: its name says nothing", c.Name))
			continue
		}
		p.take(c, "power", "it has both signs, and its name says nothing else", units)
	}
	var whole, rest []UnitMap
	for _, u := range p.Map.Units {
		if len(u.Power) > 0 {
			whole = append(whole, u)
		} else {
			rest = append(rest, u)
		}
	}
	for _, u := range rest {
		at := akin(whole, u.Name)
		if at < 0 {
			for _, part := range slices.Concat(u.SOC, u.Command) {
				p.unused = append(p.unused, part.Column)
			}
			continue
		}
		w := &whole[at]
		w.SOC, w.Command = append(w.SOC, u.SOC...), append(w.Command, u.Command...)
	}
	p.Map.Units = whole
}

// akin finds the inverter to which a name belongs: the only one that shares a word with it, or the only one. -1 means none.
func akin(units []UnitMap, name string) int {
	if len(units) == 1 {
		return 0
	}
	best, at, shared := 0, -1, false
	for i, u := range units {
		n := 0
		for _, w := range strings.Split(name, "_") {
			if slices.Contains(strings.Split(u.Name, "_"), w) && w != "inverter" {
				n++
			}
		}
		switch {
		case n > best:
			best, at, shared = n, i, false
		case n == best && n > 0:
			shared = true
		}
	}
	if shared {
		return -1
	}
	return at
}

// sumOf finds the column that is the sum of the others and of what is not logged: it moves by as much as each of them, either way. miss
// is the largest departure from that; -1 means that there is none.
func (p *Proposal) sumOf(t *Table, unsure []*Column) (at int, miss float64) {
	at, miss = -1, 0.35
	for i, c := range unsure {
		if !c.mixedSign() {
			continue
		}
		var others [][]float64
		for j, o := range unsure {
			if j != i {
				others = append(others, moves(o.Values))
			}
		}
		for _, part := range slices.Concat(p.Map.Load, p.Map.Solar) {
			others = append(others, moves(t.Find(part.Column).Values))
		}
		worst := 0.0
		for _, f := range regress(moves(c.Values), others).factors {
			worst = max(worst, math.Abs(math.Abs(f)-1))
		}
		if worst < miss {
			at, miss = i, worst
		}
	}
	return at, miss
}

func (c *Column) mixedSign() bool {
	low, high := 0.0, 0.0
	for _, v := range c.Values {
		if known(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	return low < 0 && high > 0 && min(-low, high) > 0.02*max(-low, high)
}

// Text is the map as a file to be looked at and confirmed.
func (p *Proposal) Text(log string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Which column of %s is what: proposed, and to be confirmed by you.\n", log)
	b.WriteString("# Look at each line, mend what is wrong, and write confirmed: yes. What is positive is the question that matters most.\n")
	for _, o := range p.open {
		fmt.Fprintf(&b, "# LOOK: %s\n", o)
	}
	b.WriteString("confirmed: no\n")
	tm := p.Map.Time
	fmt.Fprintf(&b, "time: {column: %s, ", strconv.Quote(tm.Column))
	if tm.Clock != "" {
		fmt.Fprintf(&b, "clock: %s, ", strconv.Quote(tm.Clock))
	}
	fmt.Fprintf(&b, "form: %s, zone: %s}  # %s\n", tm.Form, tm.Zone, p.why[tm.Column])
	list := func(indent, key string, parts []Part) {
		if len(parts) == 0 {
			return
		}
		fmt.Fprintf(&b, "%s%s:\n", indent, key)
		for _, q := range parts {
			sign := ""
			if q.Positive != "" {
				sign = ", positive: " + q.Positive
			}
			fmt.Fprintf(&b, "%s  - {column: %s, unit: %q%s}  # %s\n", indent, strconv.Quote(q.Column), q.Unit, sign, p.why[q.Column])
		}
	}
	list("", "grid", p.Map.Grid)
	list("", "load", p.Map.Load)
	list("", "solar", p.Map.Solar)
	b.WriteString("inverters:\n")
	for _, u := range p.Map.Units {
		fmt.Fprintf(&b, "  - name: %s\n", u.Name)
		list("    ", "power", u.Power)
		list("    ", "soc", u.SOC)
		list("    ", "command", u.Command)
	}
	if len(p.unused) > 0 {
		fmt.Fprintf(&b, "# Not used: %s\n", strings.Join(p.unused, ", "))
	}
	return b.String()
}
