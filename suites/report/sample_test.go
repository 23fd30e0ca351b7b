package report

import (
	"math"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

func identity(v float64) float64 { return v }

// heights follows a path and returns the least and greatest y that it
// reaches.
func heights(data string) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	y := 0.0
	for _, part := range strings.FieldsFunc(strings.NewReplacer("M", "|M", "l", "|l", "h", "|h", "v", "|v", "z", "").Replace(data),
		func(r rune) bool { return r == '|' }) {
		fields := strings.Fields(part[1:])
		last, err := strconv.ParseFloat(fields[len(fields)-1], 64)
		Expect(err).NotTo(HaveOccurred(), data)
		switch part[0] {
		case 'M':
			y = last
		case 'l', 'v':
			y += last
		}
		lo, hi = math.Min(lo, y), math.Max(hi, y)
	}
	return lo, hi
}

var _ = Describe("decimation", func() {
	day := span{from: 0, to: 86399, stepS: 1, width: 800}

	It("keeps a spike of one second in a day", func() {
		values := make([]float64, 86400)
		values[43210], values[70001] = 500, -30
		path := stroke(day.buckets(Column{Values: values}), identity)
		lo, hi := heights(path)
		Expect(lo).To(Equal(-30.0))
		Expect(hi).To(Equal(500.0))
		Expect(len(path)).To(BeNumerically("<", 100), "a level line costs next to nothing")
	})

	It("draws a whole day's wild line in a bounded number of bytes", func() {
		values := make([]float64, 86400)
		for i := range values {
			values[i] = 100 * math.Sin(float64(i)*1.3) * math.Cos(float64(i)*0.017)
		}
		Expect(len(stroke(day.buckets(Column{Values: values}), identity))).To(BeNumerically("<", 30*800))
	})

	It("keeps the extremes of any line, however many rows a pixel holds", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			n := rapid.IntRange(2, 3000).Draw(t, "rows")
			values := make([]float64, n)
			state := uint32(rapid.IntRange(1, 1<<30).Draw(t, "noise"))
			low, high := math.Inf(1), math.Inf(-1)
			for i := range values {
				state = state*1664525 + 1013904223
				values[i] = float64(state>>20) / 10
				low, high = math.Min(low, values[i]), math.Max(high, values[i])
			}
			s := span{from: 0, to: float64(n - 1), stepS: 1, width: float64(rapid.IntRange(10, 900).Draw(t, "width"))}
			lo, hi := heights(stroke(s.buckets(Column{Values: values}), identity))
			if math.Abs(lo-low) > 0.06 || math.Abs(hi-high) > 0.06 {
				t.Fatalf("drew %g..%g of %g..%g", lo, hi, low, high)
			}
		})
	})

	It("breaks the line where there is no record", func() {
		gap := span{from: 0, to: 4, stepS: 1, width: 40}
		path := stroke(gap.buckets(Column{Values: []float64{1, 1, math.NaN(), 3, 3}}), identity)
		Expect(path).To(Equal("M0 1h10M30 3h10"))
	})

	It("draws the recorded extremes as an envelope around the values", func() {
		s := span{from: 0, to: 2, stepS: 1, width: 20}
		c := Column{Values: []float64{5, 6, 5}, Min: []float64{4, 5, math.Inf(-1)}, Max: []float64{7, 9, math.NaN()}}
		Expect(envelope(s.buckets(c), identity)).To(Equal("M0 7l10 2l10 -4h-10l-10 -1z"),
			"extremes that are no figures leave the value itself")
	})

	It("fills only where the line goes beyond the limit", func() {
		s := span{from: 0, to: 5, stepS: 1, width: 50}
		all := s.buckets(Column{Values: []float64{0, 0, 20, 20, 0, 0}})
		lo, hi := heights(beyond(all, 10, true, identity))
		Expect([]float64{lo, hi}).To(Equal([]float64{0, 20}), "the feet lie on the line; the plot cuts at the limit")
		Expect(beyond(all, 30, true, identity)).To(BeEmpty())
		Expect(beyond(all, -1, false, identity)).To(BeEmpty())
	})

	It("piles consumption up and production down, so that the edges add up to the sum", func() {
		s := span{from: 0, to: 2, stepS: 1, width: 20}
		columns := []Column{{Values: []float64{100, 200, 300}}, {Values: []float64{-50, 60, -70}}}
		areas, low, high := s.stacked(columns, identity)
		Expect(areas).To(HaveLen(2))
		Expect(low).To(Equal(-70.0))
		Expect(high).To(Equal(300.0))
	})
})

var _ = Describe("a drawing", func() {
	DescribeTable("writes short coordinates", func(v float64, want string) { Expect(number(v)).To(Equal(want)) },
		Entry(nil, 0.0, "0"), Entry(nil, -0.04, "0"), Entry(nil, 0.5, ".5"), Entry(nil, -0.5, "-.5"),
		Entry(nil, 10.5, "10.5"), Entry(nil, 100.0, "100"), Entry(nil, -20.26, "-20.3"))

	It("shortens text to its room", func() {
		text := clipped("an uncommonly long name for a proofer", 100)
		Expect(text).To(HaveSuffix("…"))
		Expect(textWidth(text)).To(BeNumerically("<=", 100))
		Expect(clipped("mixer", 100)).To(Equal("mixer"))
	})

	It("never lets two flag signs overlap", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			var flags []flag
			for i := range rapid.IntRange(0, 40).Draw(t, "flags") {
				flags = append(flags, flag{at: float64(i*7919%100) / 3, sign: sign(i), fail: i%5 == 0})
			}
			var d drawing
			drawFlags(&d, flags, span{from: 0, to: 34, stepS: 1, width: 300}, 20, 100)
			var taken []place
			for _, piece := range strings.Split(d.String(), "<text")[1:] {
				x, err := strconv.ParseFloat(strings.Split(strings.SplitN(piece, `x="`, 2)[1], `"`)[0], 64)
				if err != nil {
					t.Fatal(err)
				}
				half := textWidth(strings.Split(strings.SplitN(piece, ">", 2)[1], "<")[0]) / 2
				for _, p := range taken {
					if x+half > p.from && x-half < p.to {
						t.Fatalf("two signs overlap near %g", x)
					}
				}
				taken = append(taken, place{x - half, x + half})
			}
		})
	})

	It("gives every failure a letter of its own", func() {
		seen := map[string]bool{}
		for i := range 100 {
			Expect(seen).NotTo(HaveKey(letter(i)))
			seen[letter(i)] = true
		}
	})
})
