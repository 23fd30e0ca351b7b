package scenarios

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// unit is one way to write a quantity: so many of the base unit.
type unit struct {
	name string
	// Exactly one is used: a power of ten shifts the decimal point, which is exact;
	// any other factor multiplies.
	ten    int
	factor float64
}

// dimension is a kind of quantity, with the units it may be written in.
type dimension struct {
	name  string // with its article, as it stands in messages
	units []unit // from the largest to the smallest, as they are used; the last is exact
}

// most is the largest number that any quantity may have in its base unit. It is
// far beyond any site, and small enough that no sum of a run overflows.
const most = 1e9

// dimensions are known by the word in a field's tag.
var dimensions = map[string]*dimension{
	"power":       {"a power", []unit{{name: "kW", ten: 3}, {name: "W"}}},
	"energy":      {"an energy", []unit{{name: "kWh", ten: 3}, {name: "Wh"}}},
	"ramp":        {"a ramp", []unit{{name: "kW/s", ten: 3}, {name: "W/s"}}},
	"time":        {"a time", []unit{{name: "h", factor: 3600}, {name: "min", factor: 60}, {name: "s"}, {name: "ms", ten: -3}}},
	"share":       {"a share", []unit{{name: "%", ten: -2}}},
	"voltage":     {"a voltage", []unit{{name: "kV", ten: 3}, {name: "V"}}},
	"current":     {"a current", []unit{{name: "A"}, {name: "mA", ten: -3}}},
	"currentramp": {"a rise of current", []unit{{name: "A/s"}}},
	"resistance":  {"an impedance", []unit{{name: "ohm"}, {name: "mohm", ten: -3}}},
	"frequency":   {"a frequency", []unit{{name: "Hz"}}},
	"angle":       {"an angle", []unit{{name: "deg"}}},
	"temperature": {"a temperature", []unit{{name: "degC"}}},
	"rise":        {"a temperature rise", []unit{{name: "K"}}},
	"perkelvin":   {"a share per kelvin", []unit{{name: "%/K", ten: -2}}},
	"irradiance":  {"an irradiance", []unit{{name: "W/m2"}}},
	"height":      {"a height", []unit{{name: "km", ten: 3}, {name: "m"}}},
	"water":       {"a depth of water", []unit{{name: "cm"}, {name: "mm", ten: -1}}},
	"arc":         {"a displacement", []unit{{name: "arcmin"}}},
	"charge":      {"a charge", []unit{{name: "Ah"}, {name: "mAh", ten: -3}}},
	"capacitance": {"a capacitance", []unit{{name: "kF", ten: 3}, {name: "F"}}},
	"heat":        {"a heat capacity", []unit{{name: "kJ/K", ten: 3}, {name: "J/K"}}},
	"warming":     {"a thermal resistance", []unit{{name: "K/W"}, {name: "K/kW", ten: -3}}},
	"shareramp":   {"a rise of a share", []unit{{name: "%/min", factor: 1.0 / 6000}, {name: "%/s", ten: -2}}},
	"perwatt":     {"a share per watt", []unit{{name: "1/W"}}},
	"pervolt":     {"a share per volt", []unit{{name: "1/V"}}},
	"persecond":   {"a rate by the second", []unit{{name: "/s"}}},
	"perhour":     {"a rate by the hour", []unit{{name: "/min", factor: 60}, {name: "/h"}}},
	"perday":      {"a rate by the day", []unit{{name: "/d"}}},
	"number":      {"a number without unit", []unit{{name: ""}}},
}

// unitHome says to which dimension a unit belongs, so that a wrong unit can be
// named for what it is.
func unitHome(name string) *dimension {
	for _, key := range dimensionOrder {
		for _, u := range dimensions[key].units {
			if u.name == name {
				return dimensions[key]
			}
		}
	}
	return nil
}

var dimensionOrder = []string{
	"power", "energy", "ramp", "time", "share", "voltage", "current", "currentramp", "resistance",
	"frequency", "angle", "temperature", "rise", "perkelvin", "irradiance", "height", "water",
	"arc", "charge", "capacitance", "heat", "warming", "shareramp", "perwatt", "pervolt",
	"persecond", "perhour", "perday",
}

// unitNames lists the units of a dimension for a message.
func (d *dimension) unitNames() string {
	names := make([]string, len(d.units))
	for i, u := range d.units {
		names[i] = u.name
	}
	return listed(names, "or")
}

// listed joins words as a sentence does.
func listed(words []string, conjunction string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " " + conjunction + " " + words[last]
}

// wanted says what would be right.
func (d *dimension) wanted() string {
	if d == dimensions["number"] {
		return d.name
	}
	return d.name + " in " + d.unitNames()
}

// scaled reads a decimal number in this unit as a value in the base unit.
func (u unit) scaled(digits string) (float64, error) {
	if u.factor == 0 && u.ten != 0 {
		// The shifted decimal is read as a whole, so that 35 % is the same float as 0.35.
		mantissa, exp, err := splitExponent(digits)
		if err != nil {
			return 0, err
		}
		digits = mantissa + "e" + strconv.Itoa(exp+u.ten)
	}
	v, err := strconv.ParseFloat(digits, 64)
	if u.factor != 0 {
		v *= u.factor
	}
	return v, err
}

func splitExponent(digits string) (mantissa string, exp int, err error) {
	mantissa, tail, found := strings.Cut(strings.ToLower(digits), "e")
	if found {
		exp, err = strconv.Atoi(tail)
	}
	return mantissa, exp, err
}

// parse reads a quantity, or says what is wrong with it.
func (d *dimension) parse(text string) (v float64, wanted, hint string) {
	digits, name := splitQuantity(text)
	if digits == "" {
		return 0, d.wanted(), "write it like " + d.example()
	}
	for _, u := range d.units {
		if u.name != name {
			continue
		}
		v, err := u.scaled(digits)
		if err != nil || !(math.Abs(v) <= most) {
			return 0, d.wanted(), "that is beyond all measure"
		}
		return v, "", ""
	}
	switch {
	case name == "":
		return 0, d.wanted(), "write " + d.forms(digits)
	case d == dimensions["number"]:
		return 0, d.wanted(), "write " + digits
	}
	for _, u := range d.units {
		if strings.EqualFold(u.name, name) {
			return 0, d.wanted(), "write " + digits + " " + u.name
		}
	}
	if home := unitHome(name); home != nil {
		return 0, d.wanted(), name + " is the unit of " + home.name
	}
	return 0, d.wanted(), "the unit " + quoted(name) + " is not known here"
}

// forms suggests how a bare number may be written: in the base unit, and the same
// in the unit that reads best; or, where that is one unit, in a larger one too.
func (d *dimension) forms(digits string) string {
	base := d.base()
	if d == dimensions["time"] {
		return digits + " s, " + digits + " min or " + digits + " ms, whichever is meant"
	}
	form := digits + " " + base.name
	v, err := base.scaled(digits)
	if d == dimensions["share"] && err == nil && v != 0 && math.Abs(v) <= 0.01 {
		// 0.6 may be a share that was written as a fraction.
		return form + " or " + d.format(100*v) + ", whichever is meant"
	}
	if err != nil || len(d.units) == 1 {
		return form
	}
	if best := d.format(v); best != form {
		return form + " or " + best
	}
	return form + " or " + digits + " " + d.units[0].name + ", whichever is meant"
}

func (d *dimension) example() string {
	switch d {
	case dimensions["power"]:
		return "3.6 kW"
	case dimensions["energy"]:
		return "6.4 kWh"
	case dimensions["time"]:
		return "200 ms"
	case dimensions["number"]:
		return "0.2"
	}
	return "10 " + d.base().name
}

// base is the unit that the inside uses, or the one nearest to it.
func (d *dimension) base() unit {
	for _, u := range d.units {
		if u.ten == 0 && u.factor == 0 {
			return u
		}
	}
	return d.units[0]
}

// format writes a value so that parse gives the very same float: in the unit
// that shows it with the fewest digits and at least one before the point.
func (d *dimension) format(v float64) string {
	if v == 0 {
		v = 0 // negative zero has no sign in a file
	}
	write := func(u unit) string { return strings.TrimSuffix(u.digits(v)+" "+u.name, " ") }
	best, fewest := "", math.MaxInt
	for _, u := range d.units {
		digits := u.digits(v)
		back, err := u.scaled(digits)
		if err != nil || back != v || math.Abs(v) < u.size() {
			continue
		}
		if len(digits) < fewest {
			best, fewest = write(u), len(digits)
		}
	}
	if best == "" {
		small := d.units[len(d.units)-1]
		if v == 0 {
			small = d.base()
		}
		best = write(small)
	}
	return best
}

// size is one of this unit in the base unit.
func (u unit) size() float64 {
	if u.factor != 0 {
		return u.factor
	}
	return math.Pow10(u.ten)
}

// digits gives the shortest decimal of a value in this unit.
func (u unit) digits(v float64) string {
	if u.factor != 0 {
		return plain(strconv.FormatFloat(v/u.factor, 'g', -1, 64))
	}
	s := strconv.FormatFloat(v, 'e', -1, 64)
	mantissa, exp, err := splitExponent(s)
	if err != nil {
		return s
	}
	return plain(mantissa + "e" + strconv.Itoa(exp-u.ten))
}

// plain writes a decimal without exponent where that is short.
func plain(digits string) string {
	mantissa, exp, err := splitExponent(digits)
	if err != nil || exp < -7 || exp > 12 {
		return digits
	}
	sign := ""
	if strings.HasPrefix(mantissa, "-") {
		sign, mantissa = "-", mantissa[1:]
	}
	whole, frac, _ := strings.Cut(mantissa, ".")
	if exp >= 0 {
		frac += strings.Repeat("0", max(0, exp-len(frac)))
		whole, frac = whole+frac[:exp], frac[exp:]
	} else {
		whole = strings.Repeat("0", max(0, -exp-len(whole)+1)) + whole
		cut := len(whole) + exp
		whole, frac = whole[:cut], whole[cut:]+frac
	}
	whole, frac = strings.TrimLeft(whole, "0"), strings.TrimRight(frac, "0")
	if whole == "" {
		whole = "0"
	}
	if frac != "" {
		frac = "." + frac
	}
	return sign + whole + frac
}

// splitQuantity takes a quantity apart: the number, and the unit after it. The
// number is empty when the text does not begin with one.
func splitQuantity(text string) (digits, name string) {
	text = strings.TrimSpace(text)
	i := 0
	for i < len(text) && strings.IndexByte("+-.0123456789eE", text[i]) >= 0 {
		i++
	}
	for ; i > 0; i-- { // an E may belong to the unit
		if _, err := strconv.ParseFloat(text[:i], 64); err == nil || isRange(err) {
			break
		}
	}
	return text[:i], strings.TrimSpace(text[i:])
}

func isRange(err error) bool {
	e, ok := err.(*strconv.NumError)
	return ok && e.Err == strconv.ErrRange
}

// limit is a range that a value must lie in, as its field's tag says it: "> 0",
// ">= 0", "< 5" or "0 .. 100", in the unit that is written there.
type limit struct {
	text         string
	low, high    float64
	lowIn, hghIn bool
}

// parseLimit reads a tag. The tags are part of the program: a wrong one is a
// programming error and shows in every test.
func parseLimit(tag string, d *dimension) limit {
	l := limit{text: tag, low: math.Inf(-1), high: math.Inf(1), lowIn: true, hghIn: true}
	value := func(s string) float64 {
		if s = strings.TrimSpace(s); s == "0" {
			return 0
		}
		v, wanted, _ := d.parse(s)
		if wanted != "" {
			panic(fmt.Sprintf("scenarios: tag %q: wanted %s", tag, wanted))
		}
		return v
	}
	low, high, isSpan := strings.Cut(tag, "..")
	switch {
	case tag == "":
	case isSpan:
		l.low, l.high = value(low), value(high)
		l.text = strings.TrimSpace(low) + " to " + strings.TrimSpace(high)
	case strings.HasPrefix(tag, ">="):
		l.low = value(tag[2:])
		l.text = "at least" + tag[2:]
	case strings.HasPrefix(tag, ">"):
		l.low, l.lowIn = value(tag[1:]), false
		l.text = "more than" + tag[1:]
	default:
		panic("scenarios: tag " + tag + " is no range")
	}
	return l
}

// holds says whether a value lies in the range.
func (l limit) holds(v float64) bool {
	return (v > l.low || l.lowIn && v == l.low) && (v < l.high || l.hghIn && v == l.high)
}
