package physics

import "math"

// SupplyBand says where a supply's quantity must lie: within the tight band for a share of the
// intervals, and within the wide band always.
type SupplyBand struct {
	TightLow, TightHigh float64
	TightShare          float64 // share of the intervals that must lie within the tight band [1]
	WideLow, WideHigh   float64
}

// VoltageBandEN50160 is for the 10 min means of a week of a low-voltage supply of a nominal phase
// voltage [V]: +-10 % for 95 % of them, +10 / -15 % for all. Source: EN 50160 clause 4.2.2
// (secondary); check values GV-30 and GV-31.
func VoltageBandEN50160(nominalV float64) SupplyBand {
	return SupplyBand{0.90 * nominalV, 1.10 * nominalV, 0.95, 0.85 * nominalV, 1.10 * nominalV}
}

// FrequencyBandEN50160 is for the 10 s means of a year of a synchronous 50 Hz system [Hz]: +-1 %
// for 99.5 % of them, +4 / -6 % for all. Source: EN 50160 (secondary); check value GV-32.
func FrequencyBandEN50160() SupplyBand { return SupplyBand{49.5, 50.5, 0.995, 47, 52} }

// IslandFrequencyBandEN50160 is for the 10 s means of a week of a 50 Hz system without synchronous
// connection [Hz]: +-2 % for 95 % of them, +-15 % for all. Source: EN 50160, from memory; check
// value GV-34.
func IslandFrequencyBandEN50160() SupplyBand { return SupplyBand{49, 51, 0.95, 42.5, 57.5} }

// PltBandEN50160 is for the two-hour Plt of a week: at most 1 for 95 % of them. Source: EN 50160,
// from memory; check value GV-33.
func PltBandEN50160() SupplyBand { return SupplyBand{0, 1, 0.95, 0, math.Inf(1)} }

// BandPlace says where one value lies in a SupplyBand.
type BandPlace uint8

// Within the tight band, outside it but within the wide one, or outside both.
const (
	WithinTight BandPlace = iota
	WithinWide
	OutsideBands
)

// Place classifies one value; the edges of a band belong to it. NaN lies outside.
func (b *SupplyBand) Place(v float64) BandPlace {
	switch {
	case v >= b.TightLow && v <= b.TightHigh:
		return WithinTight
	case v >= b.WideLow && v <= b.WideHigh:
		return WithinWide
	}
	return OutsideBands
}

// BandCount counts the intervals of a record by their place.
type BandCount struct {
	Band   SupplyBand
	Counts [3]int64 // by BandPlace
}

// Add takes the value of the next interval.
func (c *BandCount) Add(v float64) { c.Counts[c.Band.Place(v)]++ }

// TightShare is the share of the intervals within the tight band [1]; 1 of none.
func (c *BandCount) TightShare() float64 {
	all := c.Counts[WithinTight] + c.Counts[WithinWide] + c.Counts[OutsideBands]
	if all == 0 {
		return 1
	}
	return float64(c.Counts[WithinTight]) / float64(all)
}

// Ok says whether the record so far keeps to both bands.
func (c *BandCount) Ok() bool {
	return c.Counts[OutsideBands] == 0 && c.TightShare() >= c.Band.TightShare
}

// ClassifyBand counts a whole record, such as the 10 min means of a week.
func ClassifyBand(b SupplyBand, means []float64) BandCount {
	c := BandCount{Band: b}
	for _, v := range means {
		c.Add(v)
	}
	return c
}

// IntervalRMS aggregates a voltage over intervals of a fixed length: the root of the mean of the
// squares. Source: IEC 61000-4-30, aggregation over 10 min; from memory.
type IntervalRMS struct {
	Value float64 // of the last whole interval

	ticks, count int64
	squares      Sum
}

// NewIntervalRMS makes an aggregator for intervals of intervalS [s], to be stepped by ticks of stepS
// [s].
func NewIntervalRMS(intervalS, stepS float64) IntervalRMS {
	return IntervalRMS{ticks: max(wholeTicks(intervalS, stepS), 1)}
}

// Step takes the value of one tick and says whether an interval ended with it.
func (r *IntervalRMS) Step(v float64) bool {
	r.squares.add(float64(v * v))
	if r.count++; r.count < r.ticks {
		return false
	}
	r.Value = math.Sqrt(r.squares.Value() / float64(r.count))
	r.squares, r.count = Sum{}, 0
	return true
}
