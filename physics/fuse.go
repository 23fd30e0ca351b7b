package physics

import (
	"fmt"
	"math"
)

// GGGates are the standard's gates for a gG fuse link, and its Joule integrals at 10 ms.
type GGGates struct {
	RatedA             float64
	Min10s, Max5s      float64 // it must not melt within 10 s at the first, and must within 5 s at the second [A]
	Min100ms, Max100ms float64 // the same for 0.1 s [A]
	PreArcingA2s       float64 // smallest pre-arcing I2t at 10 ms [A2s]; 0 where not tabulated
	OperatingA2s       float64 // largest operating I2t at 10 ms [A2s]; 0 where not tabulated
}

// ggGates: IEC 60269-1 tables 3 and 7; check values OC-04 and OC-05.
var ggGates = [...]GGGates{
	{16, 33, 65, 85, 150, 300, 1000},
	{20, 42, 85, 110, 200, 0, 0},
	{25, 52, 110, 150, 260, 0, 0},
	{32, 75, 150, 200, 350, 1800, 5000},
	{63, 160, 320, 450, 820, 9000, 27000},
	{100, 290, 580, 820, 1450, 27000, 86000},
}

// GGGatesOf gives the gates of a rated current [A] between 16 and 100. Of a rating that the table
// lacks they are interpolated between its neighbours, logarithms over logarithms: an approximation
// of ours.
func GGGatesOf(ratedA float64) (GGGates, error) {
	last := len(ggGates) - 1
	if !(ratedA >= ggGates[0].RatedA && ratedA <= ggGates[last].RatedA) {
		return GGGates{}, fmt.Errorf("fuse of %g A: the gates are known from %g to %g A", ratedA, ggGates[0].RatedA, ggGates[last].RatedA)
	}
	find := func(value func(g *GGGates) float64) float64 {
		a := 0
		for i := range ggGates {
			g := &ggGates[i]
			switch v := value(g); {
			case v == 0:
			case g.RatedA == ratedA:
				return v
			case g.RatedA < ratedA:
				a = i
			default:
				return logInterpolate(ratedA, ggGates[a].RatedA, value(&ggGates[a]), g.RatedA, v)
			}
		}
		return 0 // not reached: the last row has every value
	}
	return GGGates{
		ratedA,
		find(func(g *GGGates) float64 { return g.Min10s }), find(func(g *GGGates) float64 { return g.Max5s }),
		find(func(g *GGGates) float64 { return g.Min100ms }), find(func(g *GGGates) float64 { return g.Max100ms }),
		find(func(g *GGGates) float64 { return g.PreArcingA2s }), find(func(g *GGGates) float64 { return g.OperatingA2s }),
	}, nil
}

// logInterpolate is the value at x of the straight line in log-log paper through (x0, y0) and (x1, y1).
func logInterpolate(x, x0, y0, x1, y1 float64) float64 {
	return y0 * pow(y1/y0, log(x/x0)/log(x1/x0))
}

// FuseNonFusingA is the current [A] that a gG link carries for its conventional time: 1.25 In from
// 16 A (IEC 60269-1 table 2; check value OC-01), 1.5 In below (from memory).
func FuseNonFusingA(ratedA float64) float64 {
	if ratedA < 16 {
		return 1.5 * ratedA
	}
	return 1.25 * ratedA
}

// FuseFusingA is the current [A] that melts a gG link within its conventional time: 1.6 In from 16
// A, 1.9 In below. Source: IEC 60269-1 table 2; check values OC-01 and OC-02.
func FuseFusingA(ratedA float64) float64 {
	if ratedA < 16 {
		return 1.9 * ratedA
	}
	return 1.6 * ratedA
}

// FuseConventionalS is the conventional time [s]: 1 h to 63 A, 2 h to 160 A, 3 h to 400 A, 4 h
// above. Source: IEC 60269-1 table 2; all but 1 h from memory (check value OC-03).
func FuseConventionalS(ratedA float64) float64 {
	switch {
	case ratedA <= 63:
		return 3600
	case ratedA <= 160:
		return 2 * 3600
	case ratedA <= 400:
		return 3 * 3600
	}
	return 4 * 3600
}

// Fuse is the runtime state of one gG fuse link. Its pre-arcing time over current is straight on
// log-log paper through five points: the conventional currents at the conventional time, the gates
// at 10, 5 and 0.1 s, and the Joule integral at 10 ms, beyond which I2t is constant. Gates bound it
// from both sides; Position says where between the earliest (0) and the latest (1) link this one
// lies.
//
// Under a current that changes, Heat is the share of the link's melting time that has been used up:
// it grows by h / t(I) in a tick, and the link melts at 1. Under the conventional non-fusing
// current it falls back by an exponential of a hundredth of the conventional time. Both rules are
// approximations of ours: the standard tests constant currents from cold. Not modelled: arcing,
// ambient temperature. Valid from 16 to 100 A. Source: IEC 60269-1 tables 2, 3 and 7; check values
// OC-01 to OC-05.
type Fuse struct {
	Heat   float64 // share of the way to melting [1]
	Melted bool

	amps    [5]float64 // currents of the five points, rising [A]
	seconds [5]float64 // their times, falling [s]
	power   [5]float64 // power[i] is the exponent between points i and i+1
	h       float64    // tick [s]
	cool    float64    // what a tick of cooling leaves
}

// NewFuse makes a cold fuse of a rated current [A] at a position between earliest (0) and latest (1), to be
// stepped by ticks of stepS [s].
func NewFuse(ratedA, position, stepS float64) (Fuse, error) {
	g, err := GGGatesOf(ratedA)
	if err != nil {
		return Fuse{}, err
	}
	if !(position >= 0 && position <= 1) {
		return Fuse{}, fmt.Errorf("fuse of %g A: position %g; it must be between 0, the earliest, and 1, the latest", ratedA, position)
	}
	conventional := FuseConventionalS(ratedA)
	f := Fuse{h: stepS, seconds: [5]float64{conventional, 10, 5, 0.1, 0.01}}
	earliest := [5]float64{FuseNonFusingA(ratedA), g.Min10s, 0, g.Min100ms, math.Sqrt(g.PreArcingA2s / 0.01)}
	latest := [5]float64{FuseFusingA(ratedA), 0, g.Max5s, g.Max100ms, math.Sqrt(g.OperatingA2s / 0.01)}
	earliest[2] = logInterpolate(5, 10, earliest[1], 0.1, earliest[3])
	latest[1] = logInterpolate(10, conventional, latest[0], 5, latest[2])
	for i := range f.amps {
		f.amps[i] = earliest[i] * pow(latest[i]/earliest[i], position)
	}
	for i := range 4 {
		f.power[i] = log(f.seconds[i+1]/f.seconds[i]) / log(f.amps[i+1]/f.amps[i])
	}
	f.power[4] = -2
	f.cool = exp(-stepS / (conventional / 100))
	return f, nil
}

// PreArcingS is the time from cold to melting at a constant current [A], [s]; +Inf at and under its
// own conventional current.
func (f *Fuse) PreArcingS(currentA float64) float64 {
	i := math.Abs(currentA)
	if i <= f.amps[0] {
		return math.Inf(1)
	}
	k := 0
	for k < 4 && i >= f.amps[k+1] {
		k++
	}
	return f.seconds[k] * pow(i/f.amps[k], f.power[k])
}

// Step lets a current [A rms] flow for one tick and says whether the link has melted; from then on
// none can flow.
func (f *Fuse) Step(currentA float64) bool {
	if f.Melted {
		return true
	}
	if math.Abs(currentA) <= f.amps[0] {
		f.Heat *= f.cool
		return false
	}
	f.Heat += f.h / f.PreArcingS(currentA)
	// So many equal ticks fall short of 1 by rounding alone.
	f.Melted = f.Heat >= 1-1e-9
	return f.Melted
}
