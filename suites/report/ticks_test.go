package report

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("the value axis", func() {
	DescribeTable("has round ticks",
		func(lo, hi float64, limit int, labels ...string) {
			s := newScale(lo, hi, limit)
			var got []string
			for _, tick := range s.ticks {
				got = append(got, s.label(tick))
			}
			Expect(got).To(Equal(labels))
		},
		Entry("around zero", -3.2, 18.4, 6, "−5", "0", "5", "10", "15", "20"),
		Entry("with decimals", 49.92, 50.07, 4, "49.90", "49.95", "50.00", "50.05", "50.10"),
		Entry("of a state of charge", 0.0, 100.0, 5, "0", "20", "40", "60", "80", "100"),
		Entry("of a column that never moves", 0.0, 0.0, 2, "−1", "0", "1"),
		Entry("of a column that never moves off zero", 230.0, 230.0, 4, "200", "220", "240", "260"),
	)

	It("holds any range between its first and its last tick, 1, 2 or 5 apart", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			lo := rapid.Float64Range(-1e9, 1e9).Draw(t, "lo")
			hi := lo + rapid.Float64Range(1e-3, 1e9).Draw(t, "width")
			limit := rapid.IntRange(1, 12).Draw(t, "limit")
			s := newScale(lo, hi, limit)
			slack := 1e-6 * (s.hi - s.lo)
			if s.lo > lo+slack || s.hi < hi-slack {
				t.Fatalf("%g..%g does not hold %g..%g", s.lo, s.hi, lo, hi)
			}
			if len(s.ticks) < 2 || len(s.ticks) > limit+2 {
				t.Fatalf("%d ticks where %d steps are allowed", len(s.ticks), limit)
			}
			step := s.ticks[1] - s.ticks[0]
			mantissa := step / math.Pow(10, math.Floor(math.Log10(step)+1e-6))
			for _, round := range []float64{1, 2, 5} {
				if math.Abs(mantissa-round) < 1e-3 {
					return
				}
			}
			t.Fatalf("a step of %g is not round", step)
		})
	})
})

var _ = Describe("the time axis", func() {
	start := time.Date(2026, 6, 18, 10, 30, 0, 0, time.FixedZone("CEST", 2*3600))

	DescribeTable("reads as a clock does",
		func(from, to float64, limit int, unit, first, second, local string) {
			ticks, step := timeTicks(from, to, limit)
			Expect(len(ticks)).To(BeNumerically(">=", 2))
			heading, label := elapsed(step, to)
			Expect(heading).To(Equal(unit))
			Expect(label(ticks[0])).To(Equal(first))
			Expect(label(ticks[1])).To(Equal(second))
			Expect(localLabel(start, ticks[1], step)).To(Equal(local))
		},
		Entry("over half a minute", 0.0, 30.0, 12, "s", "0", "5", "10:30:05"),
		Entry("over forty minutes", 0.0, 2400.0, 12, "min", "0", "5", "10:35"),
		Entry("over a day", 0.0, 86400.0, 12, "h:min", "0:00", "2:00", "12:30"),
		Entry("over seconds, late in the first hours", 3000.0, 3060.0, 8, "min:s", "50:00", "50:10", "11:20:10"),
		Entry("over seconds, late in the day", 57000.0, 57120.0, 8, "h:min:s", "15:50:00", "15:50:15", "02:20:15"),
		Entry("over tenths of seconds", 200.0, 201.0, 5, "min:s", "3:20.0", "3:20.2", "10:33:20"),
	)

	It("keeps to the zone's clock when summer time ends in the run", func() {
		oslo, err := time.LoadLocation("Europe/Oslo")
		if err != nil {
			Skip("the time zone database is missing: " + err.Error())
		}
		// Clocks in Norway go back from 03:00 to 02:00 on 2026-10-25 (tz database).
		before := time.Date(2026, 10, 25, 1, 0, 0, 0, oslo)
		Expect(localLabel(before, 9000, 600)).To(Equal("02:30"))
		Expect(localLabel(before, 5400, 600)).To(Equal("02:30"))
	})

	It("never crowds, whatever the span", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			from := rapid.Float64Range(0, 1e7).Draw(t, "from")
			to := from + rapid.Float64Range(0.5, 1e8).Draw(t, "length")
			limit := rapid.IntRange(2, 14).Draw(t, "limit")
			ticks, _ := timeTicks(from, to, limit)
			if len(ticks) > limit+1 {
				t.Fatalf("%d ticks where %d fit", len(ticks), limit)
			}
		})
	})
})
