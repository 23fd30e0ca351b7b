package verdict

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Moment returns a simulated time as hours, minutes and seconds since the
// start: 0:12:34.5. Tenths show only where there are any.
func Moment(s float64) string {
	sign := ""
	if s < 0 {
		sign, s = "-", -s
	}
	if s > math.MaxInt32 || math.IsNaN(s) {
		return sign + strconv.FormatFloat(s, 'g', 6, 64) + " s"
	}
	ms := int64(math.Round(s * 1000))
	text := fmt.Sprintf("%s%d:%02d:%02d", sign, ms/3600000, ms/60000%60, ms/1000%60)
	if rest := ms % 1000; rest != 0 {
		text += strings.TrimRight(fmt.Sprintf(".%03d", rest), "0")
	}
	return text
}

// thousandfold are the units that read better with a k in front.
var thousandfold = map[string]bool{"W": true, "Wh": true, "var": true, "VA": true, "W/s": true}

// Quantity returns a figure with its unit, to four significant digits, with
// the k prefix where the figure is long: 18423.7, "W" gives "18.42 kW".
func Quantity(n Number, unit string) string { return quantity(n, unit, 4) }

// QuantityBeside returns n as Quantity does, with as many digits as it takes
// to tell it from other: "18.0004 kW" beside a limit of 18 kW, where both
// would read "18 kW" otherwise.
func QuantityBeside(n, other Number, unit string) string {
	for digits := 4; ; digits++ {
		text := quantity(n, unit, digits)
		if n == other || digits == significantDigits || text != quantity(other, unit, digits) {
			return text
		}
	}
}

func quantity(n Number, unit string, digits int) string {
	v, known := n.Value()
	if !known {
		return "none"
	}
	if thousandfold[unit] && math.Abs(v) >= 1000 {
		v, unit = v/1000, "k"+unit
	}
	text := plain(v, digits)
	if unit == "" {
		return text
	}
	return text + " " + unit
}

// plain rounds to significant digits without an exponent and without
// trailing zeros, except that whole numbers keep all their digits.
func plain(v float64, digits int) string {
	if v == 0 {
		return "0"
	}
	if a := math.Abs(v); a < 1e-4 || a >= 1e12 {
		return strconv.FormatFloat(v, 'g', digits, 64)
	}
	decimals := max(0, digits-1-int(math.Floor(math.Log10(math.Abs(v)))))
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// Look says where in the trace the finding shows: the time, the span of the
// episode and the columns.
func (c Criterion) Look() string {
	var parts []string
	from, to := c.FromS, c.ToS
	if from.Known() && to.Known() {
		parts = append(parts, fmt.Sprintf("rows t = %s s to %s s", from, to))
	} else if c.AtS.Known() {
		parts = append(parts, fmt.Sprintf("row t = %s s", c.AtS))
	} else {
		parts = append(parts, "the whole run")
	}
	switch len(c.Columns) {
	case 0:
	case 1:
		parts = append(parts, "column "+c.Columns[0])
	default:
		parts = append(parts, "columns "+strings.Join(c.Columns, ", "))
	}
	return strings.Join(parts, ", ")
}

// Explain returns the five parts of a finding, one a line: criterion,
// simulated time, observed, limit, where to look in the trace.
func (c Criterion) Explain() string {
	at := "over the whole run"
	if s, known := c.AtS.Value(); known {
		at = Moment(s) + " (t = " + c.AtS.String() + " s)"
		if first, known := c.FirstS.Value(); known && first != s {
			at += ", broken since " + Moment(first)
		}
	}
	name := c.Title() + " " + c.Status.Words()
	if c.Detail != "" {
		name += ": " + c.Detail
	}
	lines := []string{
		"criterion  " + name,
		"at         " + at,
		"observed   " + QuantityBeside(c.Observed, c.Limit, c.Unit),
		"limit      " + c.LimitText(),
		"look at    " + c.Look(),
	}
	return strings.Join(lines, "\n")
}

// Because tells of a failure, in lines of the same form, whether it could have been avoided and what led to it.
func (c Criterion) Because() string {
	var lines []string
	if c.Avoidable != nil {
		text := "avoidable  no: the batteries could not have prevented it"
		if *c.Avoidable {
			text = "avoidable  yes: the batteries could have prevented it"
		}
		lines = append(lines, text)
	}
	if c.Cause != nil {
		lines = append(lines, c.Cause.Explain())
	}
	return strings.Join(lines, "\n")
}

// LimitText returns the limit with its side and its allowance: "at most 18 kW, except up to 2 s".
func (c Criterion) LimitText() string {
	text := QuantityBeside(c.Limit, c.Observed, c.Unit)
	if !c.Limit.Known() {
		return text
	}
	switch c.Bound {
	case AtMost:
		text = "at most " + text
	case AtLeast:
		text = "at least " + text
	}
	if c.Allowance != "" {
		text += ", " + c.Allowance
	}
	return text
}

// Counted is a number of things in words.
func Counted(n int, thing string) string {
	if n != 1 {
		thing += "s"
	}
	return fmt.Sprintf("%d %s", n, thing)
}
