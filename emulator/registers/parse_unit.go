package registers

import (
	"math"
	"strconv"
	"strings"
)

// unitFacts is a unit that map files may use.
type unitFacts struct {
	symbol    string
	dimension dimension
	// factor leads to the inside unit of the dimension.
	factor float64
}

var units = []unitFacts{
	{"W", power, 1}, {"kW", power, 1000},
	{"var", reactivePower, 1}, {"kvar", reactivePower, 1000},
	{"VA", apparentPower, 1}, {"kVA", apparentPower, 1000},
	{"Wh", energy, 1}, {"kWh", energy, 1000},
	{"V", voltage, 1}, {"A", current, 1}, {"Hz", frequency, 1}, {"degC", temperature, 1},
	{"%", fraction, 0.01},
	{"s", seconds, 1}, {"ms", seconds, 0.001}, {"min", seconds, 60},
	{"ms", milliseconds, 1}, {"s", milliseconds, 1000}, {"min", milliseconds, 60000},
}

// findUnit looks a unit up within a dimension.
func findUnit(symbol string, d dimension) (factor float64, found bool) {
	for _, u := range units {
		if u.symbol == symbol && u.dimension == d {
			return u.factor, true
		}
	}
	return 0, false
}

// unitSymbols lists the units of a dimension in words.
func unitSymbols(d dimension) string {
	var symbols []string
	for _, u := range units {
		if u.dimension == d {
			symbols = append(symbols, u.symbol)
		}
	}
	return alternatives(symbols)
}

// takesNoUnit tells whether a bare number is enough.
func (d dimension) takesNoUnit() bool { return d == pure || d == fraction }

// alternatives joins words as "a, b or c".
func alternatives(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// parseNumber reads a plain decimal number.
func parseNumber(text string) (float64, bool) {
	if strings.Trim(text, "+-.0123456789eE") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

// parseWhole reads a whole number, decimal or hexadecimal with 0x in front.
func parseWhole(text string) (uint64, bool) {
	base, digits := 10, text
	if rest, hex := strings.CutPrefix(strings.ToLower(text), "0x"); hex {
		base, digits = 16, rest
	}
	n, err := strconv.ParseUint(digits, base, 64)
	return n, err == nil
}
