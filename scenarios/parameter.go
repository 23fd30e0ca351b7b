package scenarios

import (
	"math"
	"slices"
	"strconv"
)

// Parameter is what a search may choose: a value of a range, or one of some words. A coordinate of 0..1 stands for each of them.
type Parameter struct {
	Name, About string
	// Words are what it may be; nil for a range.
	Words []string
	// Logarithmic says that each tenfold has the same room.
	Logarithmic bool

	dim       *dimension
	low, high float64
	grain     float64 // values are multiples of it; for a logarithmic range without steps_of 0, which means three digits
	plain     string  // as a file has it; empty where it has none
	plainAt   float64 // its coordinate
}

// asItStands is the plain value that the scenario itself has.
const asItStands = "as it stands"

// Plain returns the coordinate at which the parameter disturbs nothing; false where it only says when or how others do.
func (p *Parameter) Plain() (float64, bool) { return p.plainAt, p.plain != "" }

// Value is what a coordinate stands for, as a file has it.
func (p *Parameter) Value(u float64) string {
	u = min(max(u, 0), 1)
	if p.Words != nil {
		return p.Words[min(int(u*float64(len(p.Words))), len(p.Words)-1)]
	}
	v := p.rounded(p.between(u))
	if p.plain != "" && v == p.rounded(p.between(p.plainAt)) {
		return p.plain
	}
	return p.dim.format(v)
}

// Limits are the values at the ends of the range, or the first and the last word.
func (p *Parameter) Limits() (low, high string) { return p.Value(0), p.Value(1) }

// Cells is into how many parts its coordinate is divided where one asks what has been met: ten, or one a word.
func (p *Parameter) Cells() int {
	if p.Words != nil {
		return len(p.Words)
	}
	return 10
}

// Coarser returns the coordinates of rounder and rounder values near to one, the roundest first, down to two digits. What people
// read is easier to remember then.
func (p *Parameter) Coarser(u float64) []float64 {
	if p.Words != nil {
		return nil
	}
	v := p.rounded(p.between(u))
	var list []float64
	for digits := 1; digits <= 2; digits++ {
		for _, unit := range p.dim.units {
			size := unit.size()
			if math.Abs(v) < size {
				continue
			}
			r := p.rounded(significant(v/size, digits) * size)
			if at := p.coordinate(r); r != v && len(p.Value(at)) <= len(p.Value(u)) && !slices.Contains(list, at) {
				list = append(list, at)
			}
			break
		}
	}
	return list
}

// between is the value of the range at a coordinate, not rounded.
func (p *Parameter) between(u float64) float64 {
	if p.Logarithmic {
		return p.low * math.Pow(p.high/p.low, u)
	}
	return p.low + u*(p.high-p.low)
}

// coordinate is where a value of the range is.
func (p *Parameter) coordinate(v float64) float64 {
	if p.Logarithmic {
		return math.Log(v/p.low) / math.Log(p.high/p.low)
	}
	return (v - p.low) / (p.high - p.low)
}

// rounded is the nearest value that a file shows in few digits, and never outside the range.
func (p *Parameter) rounded(v float64) float64 {
	if p.grain > 0 {
		// The decimal nearest to the product: 3 x 0.1 is written 0.3.
		v = significant(math.Round(v/p.grain)*p.grain, 12)
	} else {
		v = significant(v, 3)
	}
	return min(max(v, p.low), p.high)
}

// significant rounds to so many decimal digits.
func significant(v float64, digits int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// grainOf is the default step of a range: a 1, 2 or 5 of about two hundred to the range. Times are in whole seconds from a minute on, and
// else no finer than a scenario's usual step.
func grainOf(low, high float64, d *dimension) float64 {
	part := (high - low) / 200
	grain := math.Pow10(int(math.Floor(math.Log10(part))))
	for _, more := range []float64{5, 2} {
		if more*grain <= part {
			grain *= more
			break
		}
	}
	switch {
	case d != dimensions["time"]:
	case high-low >= 60:
		grain = max(grain, 1)
	default:
		grain = max(grain, DefaultStep.Seconds())
	}
	return significant(grain, 1)
}
