package formula

import (
	"math"
	"time"
)

// arithmetic is a quantity at one instant.
type arithmetic interface {
	at(values []float64) float64
}

type (
	constant  float64
	reading   int // a signal, by its place
	magnitude struct{ of arithmetic }
	scaled    struct {
		of    arithmetic
		times float64
	}
	total struct{ a, b arithmetic }
)

func (c constant) at([]float64) float64         { return float64(c) }
func (r reading) at(values []float64) float64   { return values[r] }
func (m magnitude) at(values []float64) float64 { return math.Abs(m.of.at(values)) }
func (s scaled) at(values []float64) float64    { return s.of.at(values) * s.times }
func (t total) at(values []float64) float64     { return float64(t.a.at(values)) + float64(t.b.at(values)) }

// logic is a truth with a margin. Or is written by opposite and both.
type logic interface{ isLogic() }

type (
	comparison struct {
		over     arithmetic // its margin
		perScale float64
	}
	opposite struct{ of logic }
	both     struct{ a, b logic }
	// implication is opposite of both of a and the opposite of b, and counts how often a held.
	implication struct{ a, b logic }
	temporal    struct {
		window
		always bool // else eventually
		of     logic
	}
	until struct {
		window
		holds, then logic
	}
)

func (comparison) isLogic()  {}
func (opposite) isLogic()    {}
func (both) isLogic()        {}
func (implication) isLogic() {}
func (temporal) isLogic()    {}
func (until) isLogic()       {}

// window is over which times, later than now, an operator looks.
type window struct {
	from, to time.Duration
	open     bool // to the end of the run, whatever to is
	column   int
}

// place is where in a formula a part stands.
type place uint8

const (
	whole place = iota // it is judged at the start alone
	inner              // it is judged at each instant
)

// bounded says whether an operator that looks to the end of the run stands where its value would be
// needed before.
func bounded(x logic, at place) error {
	look := func(w window, parts ...logic) error {
		if w.open && at == inner {
			return wrong(w.column, "an operator without a window inside another temporal one", "a window, such as within 30 s")
		}
		var all []error
		for _, part := range parts {
			all = append(all, bounded(part, inner))
		}
		return firstOf(all...)
	}
	switch x := x.(type) {
	case opposite:
		return bounded(x.of, at)
	case both:
		return firstOf(bounded(x.a, at), bounded(x.b, at))
	case implication:
		return firstOf(bounded(x.a, at), bounded(x.b, at))
	case temporal:
		return look(x.window, x.of)
	case until:
		return look(x.window, x.holds, x.then)
	}
	return nil
}

func firstOf(all ...error) error {
	for _, err := range all {
		if err != nil {
			return err
		}
	}
	return nil
}
