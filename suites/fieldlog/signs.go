package fieldlog

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// time finds the column of moments.
func (p *Proposal) time(t *Table) error {
	names := []string{"time", "timestamp", "date", "datetime", "zeit", "zeitstempel", "datum", "tid", "moment", "t", "ts", "epoch", "unix", "seconds", "elapsed", "clock", "mst", "utc"}
	var why string
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Texts != nil {
			form, _, wrong := formOf(c.Texts)
			if form == "" {
				if strings.Contains(wrong, "either way") {
					return bad(t.File, t.line(0), c.Name, wrong, "a column map that says form: day first or month first", "")
				}
				// A date alone goes with the clock in the next column.
				if i+1 < len(t.Columns) && t.Columns[i+1].Texts != nil {
					both := make([]string, min(t.Rows, 500))
					for k := range both {
						both[k] = c.Texts[k] + " " + t.Columns[i+1].Texts[k]
					}
					header := strings.ToUpper(c.Name)
					form, _, _ = formOf(both)
					switch {
					case strings.Contains(header, "MM/DD"):
						form = MonthFirst
					case strings.Contains(header, "DD/MM"):
						form = DayFirst
					}
					if form != "" {
						p.Map.Time = TimeMap{Column: c.Name, Clock: t.Columns[i+1].Name, Form: form, Zone: "UTC"}
						why = "a date, with the time of day in the next column"
						break
					}
				}
				continue
			}
			p.Map.Time = TimeMap{Column: c.Name, Form: form, Zone: "UTC"}
			why = fmt.Sprintf("moments such as %s", c.Texts[0])
			break
		}
		if !slices.ContainsFunc(tokens(c.Name), func(w string) bool { return slices.Contains(names, w) }) || !rising(c.Values) {
			continue
		}
		form := Elapsed
		switch v := c.Values[0]; {
		case c.EpochS || v > 1e8 && v < 1e10:
			form = EpochSeconds
		case v > 1e11 && v < 1e13:
			form = EpochMillis
		case v > 30000 && v < 80000 && c.Values[len(c.Values)-1]-v < 3660:
			form = SerialDays
		case slices.Contains(tokens(c.Name), "ms"):
			form = ElapsedMS
		}
		p.Map.Time = TimeMap{Column: c.Name, Form: form, Zone: "UTC"}
		why = fmt.Sprintf("numbers that rise from %.10g on", c.Values[0])
		break
	}
	if p.Map.Time.Column == "" {
		return bad(t.File, 1, "", "no column of moments among "+t.names(), "one, such as 2026-06-18 10:30:00 or seconds", "")
	}
	if form := p.Map.Time.Form; form == ISO || form == DayFirst || form == MonthFirst {
		c := t.Find(p.Map.Time.Column)
		if zoned := strings.ContainsAny(c.Texts[0][min(len(c.Texts[0]), 11):], "Z+") || strings.Count(c.Texts[0], "-") > 2; !zoned {
			why += "; the zone is not told, and UTC is assumed"
			p.open = append(p.open, "the clock's zone is not in the log; with UTC nothing is wrong but the local time of day, unless daylight saving ended in it")
		}
	}
	p.why[p.Map.Time.Column] = why
	return nil
}

// rising says whether numbers go up, but for a few.
func rising(v []float64) bool {
	up, n := 0, 0
	for i := 1; i < len(v); i++ {
		if d := v[i] - v[i-1]; !math.IsNaN(d) {
			n++
			if d >= 0 {
				up++
			}
		}
	}
	return n > 0 && up*100 >= n*90 && !math.IsNaN(v[0])
}

// signs decides what is positive, as far as the log tells: energy that goes into a battery raises its state of charge, and what a
// device draws moves the grid flow with it.
func (p *Proposal) signs(t *Table) {
	together := p.together(t)
	column := func(part Part) []float64 {
		c := t.Find(part.Column)
		k := unitWords[strings.ToLower(part.Unit)].scale
		out := make([]float64, len(together))
		for i, row := range together {
			out[i] = c.Values[row] * k
		}
		if strings.HasSuffix(unitWords[strings.ToLower(part.Unit)].unit, "Wh") {
			return moves(out)
		}
		return out
	}
	if len(p.Map.Grid) == 0 {
		return
	}
	gridMoves := make([]float64, len(together))
	pairs := len(p.Map.Grid) == 2
	for i := range p.Map.Grid {
		g := &p.Map.Grid[i]
		g.Positive = "import"
		words := tokens(g.Column)
		sign := 1.0
		if slices.Contains(words, "export") && !slices.Contains(words, "import") || pairs && slices.Contains(words, "feed") {
			g.Positive, sign = "export", -1
			p.why[g.Column] += "; it says export"
		}
		for k, d := range moves(column(*g)) {
			gridMoves[k] += sign * d
		}
	}
	named := slices.ContainsFunc(p.Map.Grid, func(g Part) bool {
		w := tokens(g.Column)
		return slices.Contains(w, "import") || slices.Contains(w, "export")
	})
	// votes of what has one sign by nature, for import positive.
	votes := 0.0
	for i := range p.Map.Load {
		l := &p.Map.Load[i]
		l.Positive = "drawing"
		v := column(*l)
		if mean(v) < 0 {
			l.Positive = "giving"
			p.why[l.Column] += "; its mean is negative"
		}
	}
	for i := range p.Map.Solar {
		l := &p.Map.Solar[i]
		l.Positive = "giving"
		v := column(*l)
		if mean(v) < 0 {
			l.Positive = "drawing"
			p.why[l.Column] += "; its mean is negative"
		}
	}
	turned := 1.0
	var xs [][]float64
	var parts []*Part
	for i := range p.Map.Units {
		u := &p.Map.Units[i]
		for k := range u.Power {
			xs = append(xs, moves(column(u.Power[k])))
			parts = append(parts, &u.Power[k])
		}
	}
	for _, part := range slices.Concat(p.Map.Load, p.Map.Solar) {
		xs = append(xs, moves(column(part))) // what they move is not laid at an inverter's door
	}
	// What comes and goes from value to value: slow changes are followed by the loops, and say the opposite.
	for i := range xs {
		xs[i] = changes(xs[i])
	}
	r := regress(changes(gridMoves), xs)
	factors := r.factors
	// sure is how far a factor stands out from its error, bounded.
	sure := func(i int) float64 {
		if r.errors[i] == 0 {
			return 0
		}
		return max(min(factors[i]/r.errors[i], 30), -30)
	}
	for i, part := range slices.Concat(p.Map.Load, p.Map.Solar) {
		vote := sure(len(parts) + i)
		if part.Positive == "giving" {
			vote = -vote
		}
		votes += vote
	}
	at := 0
	for i := range p.Map.Units {
		u := &p.Map.Units[i]
		for k := range u.Power {
			if len(u.SOC) == 1 && k == 0 {
				// The state of charge tells the sign without the grid.
				if c := rises(column(u.SOC[0]), column(u.Power[k])); c != 0 {
					votes += c * sure(at)
				}
			}
			at++
		}
	}
	switch {
	case named && votes >= -3:
	case votes < -3:
		turned = -1
		for i := range p.Map.Grid {
			g := &p.Map.Grid[i]
			g.Positive = map[string]string{"import": "export", "export": "import"}[g.Positive]
			p.why[g.Column] += "; export is positive by the power balance: it falls when something draws"
		}
	case votes > 3:
		for i := range p.Map.Grid {
			p.why[p.Map.Grid[i].Column] += "; import is positive by the power balance"
		}
	default:
		p.open = append(p.open, "nothing in the log tells whether import or export is positive; import is assumed")
	}
	for i, part := range parts {
		c := factors[i] * turned
		part.Positive = "charging"
		if c < 0 {
			part.Positive = "discharging"
		}
		switch {
		case math.Abs(c) < 0.3 || math.Abs(c) > 3:
			p.why[part.Column] += fmt.Sprintf("; the grid flow moves by %.2g of what it moves, where 1 or -1 is due: look at the unit and the clock", c)
			p.open = append(p.open, fmt.Sprintf("%q does not fit the power balance", part.Column))
		default:
			p.why[part.Column] += fmt.Sprintf("; %s is positive: the grid flow moves by %.2f of what it moves", part.Positive, c)
		}
	}
	for i := range p.Map.Units {
		u := &p.Map.Units[i]
		for k := range u.Command {
			u.Command[k].Positive = u.Power[0].Positive
			if slope(column(u.Power[0]), column(u.Command[k])) < 0 {
				u.Command[k].Positive = map[string]string{"charging": "discharging", "discharging": "charging"}[u.Power[0].Positive]
			}
		}
	}
}

// together are the rows in which all powers are known, so that columns logged at different rates are compared at the same
// moments; all rows, where there are hardly any such.
func (p *Proposal) together(t *Table) []int {
	parts := slices.Concat(p.Map.Grid, p.Map.Load, p.Map.Solar)
	for _, u := range p.Map.Units {
		parts = append(parts, u.Power...)
	}
	var rows []int
	for row := range t.Rows {
		if !slices.ContainsFunc(parts, func(q Part) bool { return math.IsNaN(t.Find(q.Column).Values[row]) }) {
			rows = append(rows, row)
		}
	}
	if len(rows) < 30 {
		rows = rows[:0]
		for row := range t.Rows {
			rows = append(rows, row)
		}
	}
	return rows
}

// rises says whether a state of charge rises (1) or falls (-1) with a power; 0 where it hardly moves.
func rises(soc, power []float64) float64 {
	last, sum, both := math.NaN(), 0.0, 0.0
	for i, s := range soc {
		if known(power[i]) {
			sum += power[i]
		}
		if math.IsNaN(s) || s == last {
			continue
		}
		if !math.IsNaN(last) {
			both += math.Copysign(1, s-last) * sum
		}
		last, sum = s, 0
	}
	if both == 0 {
		return 0
	}
	return math.Copysign(1, both)
}

func mean(v []float64) float64 {
	sum, n := 0.0, 0.0
	for _, x := range v {
		if known(x) {
			sum += x
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}
