package fieldlog

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Form is how moments are written.
type Form string

// The forms, in the words of a map.
const (
	ISO          Form = "year first"  // 2026-06-18 10:30:00, RFC 3339
	DayFirst     Form = "day first"   // 18.06.2026 10:30:00, 18/06/2026 10:30
	MonthFirst   Form = "month first" // 06/18/2026 10:30
	EpochSeconds Form = "epoch s"     // since 1970
	EpochMillis  Form = "epoch ms"    // since 1970
	Elapsed      Form = "elapsed s"   // since whenever
	ElapsedMS    Form = "elapsed ms"  // since whenever
	SerialDays   Form = "serial days" // of a spreadsheet, since 1899-12-30
	ClockAlone   Form = "clock"       // 10:30:00 without a date
)

var forms = []Form{ISO, DayFirst, MonthFirst, EpochSeconds, EpochMillis, Elapsed, ElapsedMS, SerialDays, ClockAlone}

// shapes are the layouts of each form; fractions of a second are taken by all that have seconds.
var shapes = map[Form][]string{
	ISO: {
		"2006-01-02 15:04:05", "2006-01-02T15:04:05", "2006-01-02T15:04:05Z07:00", "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04:05 -0700",
		"2006-01-02 15:04:05-07", "2006-01-02T15:04:05-0700", "2006/01/02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04", "2006/01/02 15:04", "20060102 150405",
		"20060102T150405Z", "2006-01-02 15:04:05 UTC",
	},
	DayFirst: {
		"02.01.2006 15:04:05", "02.01.2006 15:04", "2.1.2006 15:04:05", "2.1.2006 15:04", "02.01.06 15:04:05", "02.01.06 15:04",
		"02/01/2006 15:04:05", "02/01/2006 15:04", "2/1/2006 15:04:05", "2/1/2006 15:04", "02-01-2006 15:04:05", "02-01-2006 15:04",
	},
	MonthFirst: {
		"01/02/2006 15:04:05", "01/02/2006 15:04", "1/2/2006 15:04:05", "1/2/2006 15:04", "1/2/2006 3:04:05 PM", "1/2/2006 3:04 PM", "01-02-2006 15:04:05",
	},
	ClockAlone: {"15:04:05", "15:04"},
}

// formOf tells the form of texts, by as many of them as may differ.
func formOf(texts []string) (form Form, layout string, why string) {
	var sample []string
	stride := max(1, len(texts)/400)
	for i := 0; i < len(texts); i += stride {
		if t := strings.TrimSpace(texts[i]); t != "" {
			sample = append(sample, t)
		}
	}
	if len(sample) == 0 {
		return "", "", "no moment at all"
	}
	var fits []Form
	for _, f := range []Form{ISO, DayFirst, MonthFirst, ClockAlone} {
		for _, shape := range shapes[f] {
			if all(sample, shape) {
				fits = append(fits, f)
				if layout == "" {
					layout = shape
				}
				break
			}
		}
	}
	switch {
	case len(fits) == 0:
		return "", "", "moments such as " + strconv.Quote(sample[0])
	case len(fits) > 1:
		return "", "", "moments such as " + strconv.Quote(sample[0]) + ", of which day and month can be either way round"
	}
	return fits[0], layout, ""
}

func all(texts []string, shape string) bool {
	misses := 0
	for _, t := range texts {
		if _, err := time.Parse(shape, t); err != nil {
			if misses++; misses*50 > len(texts) || len(texts) < 3 {
				return false
			}
		}
	}
	return misses < len(texts)
}

// shapeOf is the layout of a form that texts are in.
func shapeOf(form Form, texts []string) (string, bool) {
	stride := max(1, len(texts)/400)
	var sample []string
	for i := 0; i < len(texts); i += stride {
		if t := strings.TrimSpace(texts[i]); t != "" {
			sample = append(sample, t)
		}
	}
	for _, shape := range shapes[form] {
		if len(sample) > 0 && all(sample, shape) {
			return shape, true
		}
	}
	return "", false
}

// moments reads a table's time: seconds since 1970, or since whenever for the elapsed forms. NaN stands for a row whose time
// cannot be read.
func (t *Table) moments(m *TimeMap) ([]float64, error) {
	c := t.Find(m.Column)
	if c == nil {
		return nil, bad(t.File, 1, "time", "no column "+strconv.Quote(m.Column), "one of "+t.names(), "")
	}
	zone, err := time.LoadLocation(m.Zone)
	if err != nil {
		return nil, bad(t.File, 0, "time", "the zone "+strconv.Quote(m.Zone), "an IANA zone such as Europe/Oslo, or UTC", "")
	}
	if c.Texts == nil {
		return numericMoments(c, m.Form)
	}
	texts := c.Texts
	if m.Clock != "" {
		clock := t.Find(m.Clock)
		if clock == nil || clock.Texts == nil {
			return nil, bad(t.File, 1, "time", "no column of clock times "+strconv.Quote(m.Clock), "one of "+t.names(), "")
		}
		texts = make([]string, len(c.Texts))
		for i := range texts {
			texts[i] = c.Texts[i] + " " + clock.Texts[i]
		}
	}
	shape, fits := shapeOf(m.Form, texts)
	if !fits {
		return nil, bad(t.File, t.line(0), m.Column, "the moment "+strconv.Quote(texts[0]), "moments written "+string(m.Form), "")
	}
	return t.clockMoments(texts, shape, m.Form, zone)
}

func numericMoments(c *Column, form Form) ([]float64, error) {
	scale, shift := 1.0, 0.0
	switch form {
	case EpochMillis, ElapsedMS:
		scale = 1e-3
	case SerialDays:
		scale, shift = 86400, -25569*86400
	}
	out := make([]float64, len(c.Values))
	for i, v := range c.Values {
		out[i] = v*scale + shift
	}
	return out, nil
}

// clockMoments reads wall time in a zone. At the end of daylight saving an hour comes twice; the second is told from the first by the
// order of rows.
func (t *Table) clockMoments(texts []string, shape string, form Form, zone *time.Location) ([]float64, error) {
	out := make([]float64, len(texts))
	last := math.Inf(-1)
	broken, first := 0, 0
	days := 0.0
	for i, text := range texts {
		at, err := time.ParseInLocation(shape, strings.TrimSpace(text), zone)
		if err != nil {
			if broken++; broken == 1 {
				first = i
			}
			out[i] = math.NaN()
			continue
		}
		if before := at.Add(-time.Hour); form != ClockAlone && before.Hour() == at.Hour() {
			at = before // the first of two readings
		}
		s := float64(at.UnixNano()/1e6) / 1e3
		if form == ClockAlone {
			at = at.UTC()
			h, m, sec := at.Clock()
			s = float64(h*3600+m*60+sec) + float64(at.Nanosecond())/1e9 + days
			if s < last-43200 { // past midnight
				days += 86400
				s += 86400
			}
		} else if s < last {
			s = later(at, s, last)
		}
		out[i] = s
		last = s
	}
	if broken > 0 {
		where := fmt.Sprintf("line %d", t.line(first))
		if broken*20 > len(texts) {
			return nil, bad(t.File, t.line(first), "time", strconv.Quote(texts[first]), "a moment such as "+shape, "")
		}
		t.note(Warning, where, fmt.Sprintf("%s without a time that can be read, the first %q; left out", counted(broken, "row"), texts[first]))
	}
	return out, nil
}

// later gives the second reading of a wall time that comes twice, if the first would be before the row above.
func later(at time.Time, s, last float64) float64 {
	if other := at.Add(time.Hour); other.Hour() == at.Hour() && s+3600 >= last-60 {
		return s + 3600
	}
	return s
}

func (t *Table) names() string {
	var list []string
	for i := range t.Columns {
		list = append(list, strconv.Quote(t.Columns[i].Name))
	}
	return strings.Join(list, ", ")
}
