package sweep_test

import (
	"math"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/sweep"
)

func knob(text string) *sweep.Knob {
	GinkgoHelper()
	k, err := sweep.ParseKnob(text)
	Expect(err).NotTo(HaveOccurred())
	return k
}

var _ = Describe("what is varied", func() {
	DescribeTable("is written in the unit of its ends", func(text string, values ...string) {
		Expect(knob(text).Values).To(Equal(values))
	},
		Entry("a share", "apart=2%:8%:4", "2%", "4%", "6%", "8%"),
		Entry("with a blank", "north.battery.capacity=8 kWh:12 kWh:5", "8 kWh", "9 kWh", "10 kWh", "11 kWh", "12 kWh"),
		Entry("a bare number", "gain=0.1:0.7:3", "0.1", "0.4", "0.7"),
		Entry("below zero", "south_ct.offset=-30 W:30 W:3", "-30 W", "0 W", "30 W"),
		Entry("thirds", "x=0s:1s:4", "0s", "0.333333333s", "0.666666667s", "1s"),
		Entry("words", "MODE=calm, eager", "calm", "eager"),
		Entry("values with commas of their own", "happens.1.van_charger=unplug,{plug_in: 16 A, soc: 20 %}", "unplug", "{plug_in: 16 A, soc: 20 %}"),
		Entry("times of day", "starts=2026-01-20 05:00,2026-06-18 12:30", "2026-01-20 05:00", "2026-06-18 12:30"),
	)

	DescribeTable("is refused with what would be right", func(text, want string) {
		_, err := sweep.ParseKnob(text)
		Expect(err).To(MatchError(ContainSubstring(want)))
	},
		Entry("no values", "apart", "want NAME=LOW:HIGH:COUNT"),
		Entry("two units", "apart=2%:8 W:4", "found 2% and 8 W, want the same unit at both ends"),
		Entry("the wrong way round", "apart=8%:2%:4", "want the lower end first"),
		Entry("one value", "apart=2%:8%:1", "want a whole number from 2 to 1000"),
		Entry("no count", "apart=2%:8%:many", `found "many" for how many values`),
		Entry("one word", "MODE=calm", "which is one value"),
		Entry("the same twice", "MODE=calm,eager,calm", `found "calm" twice`),
	)
})

// columns are the figures of a knob without a unit in a design of n points.
func columns(d sweep.Design, n, dim int) [][]float64 {
	GinkgoHelper()
	var knobs []*sweep.Knob
	for k := range dim {
		knobs = append(knobs, knob(string(rune('a'+k))+"=0:65536"))
	}
	points, err := sweep.Points(d, knobs, n)
	Expect(err).NotTo(HaveOccurred())
	Expect(points).To(HaveLen(n))
	list := make([][]float64, dim)
	for k := range dim {
		for _, p := range points {
			v, is := knobs[k].Figure(p[k])
			Expect(is).To(BeTrue())
			list[k] = append(list[k], v/65536)
		}
	}
	return list
}

var _ = Describe("a design", func() {
	It("is every combination on a grid, the last changing fastest", func() {
		points, err := sweep.Points(sweep.Grid, []*sweep.Knob{knob("a=1:2:2"), knob("B=x,y,z")}, 0)
		Expect(err).NotTo(HaveOccurred())
		Expect(points).To(Equal([]sweep.Point{{"1", "x"}, {"1", "y"}, {"1", "z"}, {"2", "x"}, {"2", "y"}, {"2", "z"}}))
	})

	// The first ten points in three dimensions: S. Joe, F. Y. Kuo, Notes on generating Sobol sequences, 2008, what their program prints.
	It("begins as a Sobol sequence was published", func() {
		Expect(columns(sweep.Sobol, 10, 3)).To(Equal([][]float64{
			{0, 0.5, 0.75, 0.25, 0.375, 0.875, 0.625, 0.125, 0.1875, 0.6875},
			{0, 0.5, 0.25, 0.75, 0.375, 0.875, 0.125, 0.625, 0.3125, 0.8125},
			{0, 0.5, 0.25, 0.75, 0.625, 0.125, 0.875, 0.375, 0.9375, 0.4375},
		}))
	})

	// The twelfth point in thirteen dimensions and the ones around it, from scipy 1.10.1, scipy.stats.qmc.Sobol(13, scramble=False).
	It("goes on so in all dimensions of the table", func() {
		list := columns(sweep.Sobol, 12, 13)
		for i, want := range map[int][]float64{
			2:  {.75, .25, .25, .25, .75, .75, .25, .75, .75, .75, .75, .75, .25},
			4:  {.375, .375, .625, .875, .375, .125, .375, .875, .875, .625, .875, .375, .375},
			8:  {.1875, .3125, .9375, .4375, .5625, .3125, .4375, .9375, .9375, .3125, .6875, .0625, .9375},
			11: {.4375, .5625, .1875, .6875, .8125, .0625, .6875, .6875, .6875, .0625, .9375, .3125, .1875},
		} {
			for k := range want {
				Expect(list[k][i]).To(Equal(want[k]), "point %d, dimension %d", i, k+1)
			}
		}
	})

	DescribeTable("has one point in each cell of each coordinate", func(d sweep.Design, n, dim int) {
		for _, values := range columns(d, n, dim) {
			var cells []int
			for _, v := range values {
				cells = append(cells, int(math.Floor(v*float64(n)+1e-9)))
			}
			slices.Sort(cells)
			for i, c := range cells {
				Expect(c).To(Equal(i))
			}
		}
	},
		Entry("a Latin hypercube", sweep.Latin, 20, 4),
		// A property of the sequence: the first 2^m points are a (0, m, 1)-net in each coordinate.
		Entry("a Sobol sequence of 16", sweep.Sobol, 16, 13),
		Entry("and of 256", sweep.Sobol, 256, 13),
	)

	It("takes words as well, each as often as another", func() {
		points, err := sweep.Points(sweep.Sobol, []*sweep.Knob{knob("a=0:1"), knob("MODE=calm,eager")}, 16)
		Expect(err).NotTo(HaveOccurred())
		calm := 0
		for _, p := range points {
			if p[1] == "calm" {
				calm++
			}
		}
		Expect(calm).To(Equal(8))
	})

	DescribeTable("is refused where it makes no sense", func(d sweep.Design, n int, want, texts string) {
		var knobs []*sweep.Knob
		for _, text := range strings.Fields(texts) {
			knobs = append(knobs, knob(text))
		}
		_, err := sweep.Points(d, knobs, n)
		Expect(err).To(MatchError(ContainSubstring(want)))
	},
		Entry("a grid without a count", sweep.Grid, 0, "a grid needs to know how many values, as in a=1%:2%:5", "a=1%:2%"),
		Entry("a count that says nothing", sweep.Latin, 8, "leave the count of values away", "a=1%:2%:3"),
		Entry("no points", sweep.Sobol, 1, "must be from 2 to", "a=1%:2%"),
		Entry("too many parameters", sweep.Sobol, 8, "has 13", "a=1:2 b=1:2 c=1:2 d=1:2 e=1:2 f=1:2 g=1:2 h=1:2 i=1:2 j=1:2 k=1:2 l=1:2 m=1:2 n=1:2"),
		Entry("a huge grid", sweep.Grid, 0, "more than 1000000 points", "a=1:2:1000 b=1:2:1000 c=1:2:2"),
	)
})
