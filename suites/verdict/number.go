package verdict

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
)

// significantDigits is how many digits a figure keeps: enough to tell 18 kW
// from 18 kW and 10 mW, few enough that the last bits of a float do not show.
const significantDigits = 7

// Number is a figure that may be missing. The zero value is missing and
// writes null: a margin that nobody computed must not read as a margin of 0.
// NaN and the infinities have no place in JSON and count as missing too.
type Number struct {
	value float64
	known bool
}

// Of returns v rounded to seven significant digits. It rounds on entry, so
// that a verdict in memory equals the same verdict read back.
func Of(v float64) Number {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Number{}
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', significantDigits-1, 64), 64)
	if err != nil { // Rounding can only carry the largest floats out of range.
		return Number{}
	}
	return Number{value: rounded + 0, known: true} // +0 turns -0 into 0.
}

// Seconds returns a simulated time rounded to 1 ms, however long the run:
// the finest step is 10 ms, and seven digits would lose it after a week.
func Seconds(s float64) Number {
	if math.IsNaN(s) || math.IsInf(s, 0) {
		return Number{}
	}
	rounded := math.Round(s*1000) / 1000
	if math.IsInf(rounded, 0) { // Multiplying overflowed.
		return Number{}
	}
	return Number{value: rounded + 0, known: true}
}

// Value returns the figure and whether there is one.
func (n Number) Value() (float64, bool) { return n.value, n.known }

// Known says whether there is a figure.
func (n Number) Known() bool { return n.known }

// IsZero says that the figure is missing; encoding/json asks it for omitzero.
func (n Number) IsZero() bool { return !n.known }

// String returns the figure in plain decimal, or "none".
func (n Number) String() string {
	if !n.known {
		return "none"
	}
	return strconv.FormatFloat(n.value, 'f', -1, 64)
}

// MarshalJSON writes the figure, or null where it is missing.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.known {
		return []byte("null"), nil
	}
	return json.Marshal(n.value)
}

// UnmarshalJSON reads a JSON number or null, and nothing else: a figure in
// quotes is a mistake of the writer.
func (n *Number) UnmarshalJSON(text []byte) error {
	if string(text) == "null" {
		*n = Number{}
		return nil
	}
	var v float64
	if err := json.Unmarshal(text, &v); err != nil {
		return fmt.Errorf("found %s, want a number or null", text)
	}
	*n = Number{value: v + 0, known: true}
	return nil
}
