package physics

import (
	"math"
	"slices"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// cloudDay is what one seed's eight hours of broken cloud did, second by second.
type cloudDay struct {
	second     float64 // largest change of the irradiance in a second, over the clear sky's [1]
	wide       float64 // the same of the mean over the 45 s that a cloud takes across a large plant [1]
	brightest  float64 // largest irradiance over the clear sky's [1]
	longestS   int     // longest time above 1.05 of the clear sky [s]
	minute     float64 // largest change between two minutes' means, of the roof's peak power [1]
	overTenth  int     // how many such changes exceed a tenth of the peak power
	shadedPart float64 // share of the time below 0.95 of the clear sky [1]
}

const cloudDayS = 8 * 3600

// cloudDayOf runs the bakery's roof of 12 kW from 07:00 to 15:00 UTC on a June day (08:00 to 16:00 by the sun).
func cloudDayOf(seed uint64, b BrokenClouds) cloudDay {
	s := bakery()
	s.StepMS, s.Seed = 1000, seed
	s.Sky.StartUnixS += 7 * 3600
	roof := newArray(&s.Arrays[0], &s)
	sky := sky{factor: 1, chance: newStream(seed, "sky")}
	sky.begin(0, b)
	var d cloudDay
	var window [45]float64
	was, wasWide, wasMinute, minute, bright := 1.0, math.NaN(), math.NaN(), 0.0, 0
	for i := range window {
		window[i] = 1
	}
	for second := 1; second <= cloudDayS; second++ {
		ms := int64(second) * 1000
		sky.step(ms)
		d.second, was = max(d.second, math.Abs(sky.factor-was)), sky.factor
		window[second%len(window)] = sky.factor
		wide := 0.0
		for _, w := range window {
			wide += w / float64(len(window))
		}
		if second > 1 {
			d.wide = max(d.wide, math.Abs(wide-wasWide))
		}
		wasWide = wide
		d.brightest = max(d.brightest, sky.factor)
		bright++
		if sky.factor <= 1.05 {
			bright = 0
		}
		d.longestS = max(d.longestS, bright)
		if sky.factor < 0.95 {
			d.shadedPart += 1.0 / cloudDayS
		}
		minute += roof.output(ms, sky.factor) / roof.par.PeakW / 60
		if second%60 == 0 {
			if change := math.Abs(minute - wasMinute); second > 60 {
				d.minute = max(d.minute, change)
				if change > 0.1 {
					d.overTenth++
				}
			}
			wasMinute, minute = minute, 0
		}
	}
	return d
}

// cloudDays runs sixty seeds: 480 h of broken cloud, about what a year has of it.
func cloudDays(b BrokenClouds) []cloudDay {
	days := make([]cloudDay, 60)
	for seed := range days {
		days[seed] = cloudDayOf(uint64(seed), b)
	}
	return days
}

// sorted returns one figure of all days in ascending order.
func sorted(days []cloudDay, figure func(cloudDay) float64) []float64 {
	var all []float64
	for _, d := range days {
		all = append(all, figure(d))
	}
	slices.Sort(all)
	return all
}

var _ = Describe("broken clouds like those in the field", Ordered, func() {
	var days []cloudDay
	BeforeAll(func() { days = cloudDays(FieldClouds()) })
	largest := func(figure func(cloudDay) float64) float64 { return slices.Max(sorted(days, figure)) }
	middle := func(figure func(cloudDay) float64) float64 { return sorted(days, figure)[len(days)/2] }

	// A year's maximum, of one place; the process may not exceed it, and with 480 h it should come
	// within a quarter of it, or controllers would never meet the fast edges.
	It("PV-50: the fastest second of a year is up to 60 % (published, Lave et al. 2012)", func() {
		Expect(largest(func(d cloudDay) float64 { return d.second })).To(And(BeNumerically("<=", 0.60), BeNumerically(">", 0.45)))
	})
	It("PV-50: reflection raises the largest ramps by over 40 % (published, Lave et al. 2012)", func() {
		dull := FieldClouds()
		dull.MaxEnhancement = 0
		without := slices.Max(sorted(cloudDays(dull), func(d cloudDay) float64 { return d.second }))
		Expect(largest(func(d cloudDay) float64 { return d.second }) / without).To(BeNumerically(">", 1.4))
	})
	// The plant's 10 MW span about 450 m, which a cloud at 10 m/s crosses in 45 s (size and speed: common practice, no source).
	It("PV-51: smoothed to 10 MW, no second changes by 5 % (published, Lave et al. 2012)", func() {
		Expect(largest(func(d cloudDay) float64 { return d.wide })).To(BeNumerically("<", 0.05))
	})
	It("PV-52 and PV-53: up to 1.5 of the clear sky, for seconds to minutes (published, Yordanov et al. 2013, Jarvela et al. 2020)", func() {
		Expect(largest(func(d cloudDay) float64 { return d.brightest })).To(And(BeNumerically("<=", 1.5), BeNumerically(">", 1.4)))
		longest := sorted(days, func(d cloudDay) float64 { return float64(d.longestS) })
		Expect(longest[0]).To(BeNumerically(">", 10))
		Expect(longest[len(longest)-1]).To(BeNumerically("<", 600))
	})
	// 0.70 is the year's maximum of a plant of 5 MW; a roof's may be more, so that this bound is on the
	// careful side.
	It("PV-54: no minute changes by more than 0.70 of capacity (published, van Haaren et al. 2012)", func() {
		Expect(largest(func(d cloudDay) float64 { return d.minute })).To(BeNumerically("<", 0.70))
	})
	// One example day against the median day; a quarter either way, since one day is no distribution.
	It("PV-55: the largest minute of a day changes by 0.4 of capacity (published, Perez et al. 2013)", func() {
		Expect(middle(func(d cloudDay) float64 { return d.minute })).To(BeNumerically("~", 0.4, 0.1))
	})
	// The limit exists since plants without storage break it; each day must.
	It("PV-56: a limit of 10 % of capacity a minute is broken several times an hour (published, cited in Lave and Kleissl 2013)", func() {
		Expect(sorted(days, func(d cloudDay) float64 { return float64(d.overTenth) })[0]).To(BeNumerically(">", 3*8))
	})
	It("leaves sun and shade in turns", func() {
		shaded := sorted(days, func(d cloudDay) float64 { return d.shadedPart })
		Expect(shaded[0]).To(BeNumerically(">", 0.1))
		Expect(shaded[len(shaded)-1]).To(BeNumerically("<", 0.6))
	})
})

var _ = Describe("the laws of the sky", func() {
	wildClouds := func(t *rapid.T) BrokenClouds {
		shallow := rapid.Float64Range(0, 0.9).Draw(t, "shallow")
		return BrokenClouds{
			On: true, MeanGapS: rapid.Float64Range(0, 60).Draw(t, "gap"), MeanLastS: rapid.Float64Range(0, 60).Draw(t, "last"),
			MinDepth: shallow, MaxDepth: rapid.Float64Range(shallow, 1).Draw(t, "deep"),
			EdgeS: rapid.Float64Range(0.5, 5).Draw(t, "edge"), MaxEdgeS: rapid.Float64Range(0, 30).Draw(t, "blunt"),
			MaxEnhancement: rapid.Float64Range(0, 0.5).Draw(t, "enhancement"),
		}
	}

	It("never jumps and never leaves its bounds, however clouds of story and process overlap", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			b := wildClouds(t)
			s := sky{factor: 1, chance: newStream(rapid.Uint64().Draw(t, "seed"), "sky")}
			s.begin(0, b)
			story := PassCloud{Depth: 0.8, EdgeS: 2, LastsS: 20, Enhancement: 0.5}
			// Dark and bright both move at most as fast as the sharpest edge of all allows.
			fastest := 0.1 * (1.5/min(b.EdgeS, 2)*1.5 + 1.5/min(b.EdgeS, 2))
			was := 1.0
			for ms := int64(100); ms < 120_000; ms += 100 {
				if ms == 30_000 {
					s.pass(ms, story)
				}
				s.step(ms)
				if s.factor < 0 || s.factor > 1.5 {
					t.Fatalf("factor %v", s.factor)
				}
				if d := math.Abs(s.factor - was); d > fastest {
					t.Fatalf("jumped from %v to %v at %d ms", was, s.factor, ms)
				}
				was = s.factor
			}
		})
	})

	It("does not depend on the step", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			b, seed := wildClouds(t), rapid.Uint64().Draw(t, "seed")
			fine, coarse := sky{factor: 1, chance: newStream(seed, "sky")}, sky{factor: 1, chance: newStream(seed, "sky")}
			fine.begin(0, b)
			coarse.begin(0, b)
			for ms := int64(100); ms < 60_000; ms += 100 {
				fine.step(ms)
				if ms%1000 == 0 {
					coarse.step(ms)
					if fine.factor != coarse.factor {
						t.Fatalf("%v, but %v by coarse steps", fine.factor, coarse.factor)
					}
				}
			}
		})
	})

	It("keeps the times of its clouds when only their depth and brightness change", func() {
		a, b := sky{factor: 1, chance: newStream(7, "sky")}, sky{factor: 1, chance: newStream(7, "sky")}
		plain := BrokenClouds{On: true, MeanGapS: 20, MeanLastS: 20, MinDepth: 0.5, MaxDepth: 0.5, EdgeS: 1}
		other := plain
		other.MinDepth, other.MaxDepth = 0.2, 0.9
		a.begin(0, plain)
		b.begin(0, other)
		shaded := 0
		for ms := int64(1000); ms < 3600_000; ms += 1000 {
			a.step(ms)
			b.step(ms)
			Expect(a.factor < 1).To(Equal(b.factor < 1))
			if a.factor < 1 {
				shaded++
			}
		}
		Expect(shaded).To(BeNumerically(">", 600))
	})

	It("lets clouds on their way pass when the process ends, and is clear then", func() {
		s := sky{factor: 1, chance: newStream(7, "sky")}
		s.begin(0, BrokenClouds{On: true, MeanGapS: 1, MeanLastS: 30, MinDepth: 0.5, MaxDepth: 0.5, EdgeS: 1})
		ms := int64(0)
		for s.factor == 1 {
			ms += 100
			s.step(ms)
		}
		s.begin(ms, BrokenClouds{})
		s.step(ms + 1000)
		Expect(s.factor).To(BeNumerically("<", 1))
		for range 3600 {
			ms += 1000
			s.step(ms)
		}
		Expect(s.factor).To(Equal(1.0))
	})
})
