package fieldlog

import "strings"

// unitWords are how loggers write units, and what one is in the base unit: W, Wh, or 1 for a share.
var unitWords = map[string]struct {
	unit  string
	scale float64
}{
	"w": {"W", 1}, "watt": {"W", 1}, "watts": {"W", 1}, "kw": {"kW", 1e3}, "mw": {"MW", 1e6},
	"wh": {"Wh", 1}, "kwh": {"kWh", 1e3}, "mwh": {"MWh", 1e6},
	"%": {"%", 0.01}, "pct": {"%", 0.01}, "percent": {"%", 0.01}, "1": {"1", 1},
	"w/m2": {"W/m2", 1}, "w/m^2": {"W/m2", 1}, "w/m²": {"W/m2", 1},
}

// others are units that a log may hold besides.
var otherUnits = map[string]bool{"": true, "s": true, "ms": true, "v": true, "a": true, "hz": true, "°c": true, "c": true, "degc": true, "va": true, "var": true,
	"utc": true, "local": true, "-": true, "dd.mm.yyyy": true, "hh:mm:ss": true}

// unitLine says whether cells are units and nothing else.
func unitLine(cells []string) bool {
	found := 0
	for _, c := range cells {
		c = strings.ToLower(strings.Trim(c, "[]() "))
		if _, is := unitWords[c]; is {
			found++
		} else if !otherUnits[c] {
			return false
		}
	}
	return found > 0
}

// splitUnit finds the unit in a column's name: Power [kW], Power (W), power_kw.
func splitUnit(c *Column) {
	name := strings.TrimSpace(c.Name)
	for _, pair := range []string{"[]", "()"} {
		open, shut := strings.LastIndexByte(name, pair[0]), strings.LastIndexByte(name, pair[1])
		if open >= 0 && shut > open {
			if u, is := unitWords[strings.ToLower(strings.TrimSpace(name[open+1:shut]))]; is {
				c.Unit = u.unit
				return
			}
		}
	}
	at := strings.LastIndexAny(name, "_ .")
	if at < 0 {
		return
	}
	if u, is := unitWords[strings.ToLower(name[at+1:])]; is && u.unit != "1" {
		c.Unit = u.unit
	}
}
