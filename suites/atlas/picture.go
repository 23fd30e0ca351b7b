package atlas

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Picture is one model of the plant, drawn.
type Picture struct {
	ID      string // anchor of the page
	Section string // the chapter that it belongs to
	Title   string
	Panels  []Panel // one above the other
	Checks  []Check // the model against published values
	Formula string
	Source  string
	Note    string // what a reader might stumble over; may be empty
	// WithoutPoints says why no published value exists, where none does.
	WithoutPoints string
}

// Panel is one pair of axes.
type Panel struct {
	X, Y   Axis
	Curves []Curve
	Bars   []float64 // heights over the names of X
}

// Axis is one axis of a panel.
type Axis struct {
	Label    string // with its unit
	Log      bool
	Min, Max float64  // equal means that the axis fits what is drawn
	Names    []string // of categories at 0, 1, 2 ...
}

// Curve is one line of a panel. A value that is not finite interrupts it.
type Curve struct {
	Name   string // its entry in the legend; empty means none
	Hue    int    // index of its colour
	Dashed bool
	X, Y   []float64
}

// Mark says where a published value comes from.
type Mark uint8

// The marks, from the strongest to the weakest.
const (
	Published  Mark = iota // read in a published text
	Recomputed             // worked out from a published formula, independently of this project's code
	ByHand                 // worked out by hand
	FromMemory             // known, but not seen in a text; nothing to judge by
)

// String gives the mark in words.
func (m Mark) String() string {
	return [...]string{"published", "recomputed from the published formula", "by hand", "from memory"}[m]
}

// Bound says in which way the model must meet a value.
type Bound uint8

// The ways.
const (
	Exactly Bound = iota
	AtLeast
	AtMost
)

// Check is one published value beside the model's.
type Check struct {
	ID, What  string
	Value     float64 // published
	Model     float64
	Tolerance float64
	Unit      string
	Bound     Bound
	Mark      Mark

	Panel  int     // where it is drawn
	X, Y   float64 // NaN means that it stands in the table alone
	Silent bool    // drawn without its id
}

// Deviation is by how much the model misses the value; 0 where it keeps a bound.
func (c Check) Deviation() float64 {
	switch {
	case c.Model == c.Value: // both may be infinite
		return 0
	case c.Bound == AtLeast:
		return max(0, c.Value-c.Model)
	case c.Bound == AtMost:
		return max(0, c.Model-c.Value)
	}
	return math.Abs(c.Model - c.Value)
}

// Holds says whether the model meets the value within its tolerance.
func (c Check) Holds() bool { return c.Deviation() <= c.Tolerance }

func (c Check) drawn() bool { return finite(c.X) && finite(c.Y) }

// LargestDeviation says in one line how far the model lies from the points, unit by unit.
func (p Picture) LargestDeviation() string {
	if len(p.Checks) == 0 {
		return ""
	}
	var units []string
	worst, bounds, met := map[string]float64{}, 0, 0
	for _, c := range p.Checks {
		if c.Bound != Exactly {
			bounds++
			if c.Holds() {
				met++
			}
			continue
		}
		if _, seen := worst[c.Unit]; !seen {
			units = append(units, c.Unit)
		}
		worst[c.Unit] = max(worst[c.Unit], c.Deviation())
	}
	var parts []string
	for _, u := range units {
		parts = append(parts, figure(worst[u], 2)+space(u))
	}
	text := ""
	switch n := len(p.Checks) - bounds; {
	case n == 1:
		text = "Deviation from the one value: " + parts[0]
	case n > 1:
		text = fmt.Sprintf("Largest deviation from the %d values: %s", n, strings.Join(parts, "; "))
	}
	if bounds > 0 {
		if text != "" {
			text += ". "
		}
		text += fmt.Sprintf("Bounds kept: %d of %d", met, bounds)
	}
	return text + "."
}

func space(unit string) string {
	if unit == "" {
		return ""
	}
	return "\u00a0" + unit
}

// figure writes a number with so many significant digits, as people do.
func figure(v float64, digits int) string {
	switch {
	case math.IsInf(v, 1):
		return "never"
	case v == 0:
		return "0"
	}
	text := strconv.FormatFloat(v, 'g', digits, 64)
	mantissa, exponent, has := strings.Cut(text, "e")
	if n, err := strconv.Atoi(exponent); has && err == nil {
		if n >= 0 && n < 7 {
			text = strconv.FormatFloat(v, 'f', 0, 64)
		} else {
			text = mantissa + "e" + strconv.Itoa(n)
		}
	}
	return strings.ReplaceAll(text, "-", "−")
}

// nan stands for "nowhere" and "no value".
var nan = math.NaN()

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// over samples a function at n + 1 places from a to b, evenly, or evenly on a logarithmic axis.
func over(a, b float64, n int, log bool, f func(x float64) float64) (x, y []float64) {
	for i := range n + 1 {
		share := float64(i) / float64(n)
		v := a + (b-a)*share
		switch {
		case i == n:
			v = b
		case log:
			v = a * math.Pow(b/a, share)
		}
		x, y = append(x, v), append(y, f(v))
	}
	return x, y
}

// line is a curve of a function.
func line(name string, hue int, a, b float64, n int, f func(x float64) float64) Curve {
	x, y := over(a, b, n, false, f)
	return Curve{Name: name, Hue: hue, X: x, Y: y}
}

// logLine is the same with places that are even on a logarithmic axis.
func logLine(name string, hue int, a, b float64, n int, f func(x float64) float64) Curve {
	x, y := over(a, b, n, true, f)
	return Curve{Name: name, Hue: hue, X: x, Y: y}
}

func (c Curve) dashed() Curve {
	c.Dashed = true
	return c
}

// add appends one point.
func (c *Curve) add(x, y float64) { c.X, c.Y = append(c.X, x), append(c.Y, y) }
