package formula_test

import (
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/onsi/gomega/types"

	"kilter/suites/formula"
)

var bakery = []formula.Signal{
	{Name: "grid", Unit: formula.Watt}, {Name: "north", Unit: formula.Watt}, {Name: "south", Unit: formula.Watt},
	{Name: "north.soc", Unit: formula.Number},
}

// judge observes rows of grid, north and south in kW a second apart.
func judge(src string, rows ...[3]float64) (margin float64, at int64, known bool) {
	GinkgoHelper()
	f, err := formula.Parse(src, bakery)
	Expect(err).NotTo(HaveOccurred())
	m, err := f.Monitor(time.Second)
	Expect(err).NotTo(HaveOccurred())
	for _, r := range rows {
		m.Observe([]float64{1000 * r[0], 1000 * r[1], 1000 * r[2], 0.5})
	}
	return m.Margin()
}

var _ = Describe("a formula", func() {
	rising := [][3]float64{{1, 0, 0}, {2, 1, -1}, {3, 2, -2}, {4, 3, -3}, {5, 4, -4}}

	DescribeTable("has the margin of signal temporal logic's quantitative semantics (Donzé, Maler 2010; worked by hand)",
		func(src string, margin float64) {
			got, _, known := judge(src, rising...)
			Expect(known).To(BeTrue())
			Expect(got).To(BeNumerically("~", margin, 1e-9))
		},
		Entry(nil, "grid < 18 kW", 17000.0),
		Entry(nil, "grid >= 1 kW", 0.0),
		Entry(nil, "always grid <= 4 kW", -1000.0),
		Entry(nil, "always for 2 s grid < 4 kW", 1000.0),
		Entry(nil, "eventually grid > 4.5 kW", 500.0),
		Entry(nil, "eventually within 2 s grid > 4.5 kW", -1500.0),
		Entry(nil, "eventually in 3 s..4 s grid > 4.5 kW", 500.0),
		Entry(nil, "always from 2 s grid > 2 kW", 1000.0),
		Entry(nil, "not always grid <= 4 kW", 1000.0),
		Entry(nil, "always (grid > 2 kW implies eventually within 1 s grid > 3 kW)", 0.0),
		Entry(nil, "grid < 18 kW and north > 1 kW or south < 1 kW", 1000.0),
		Entry(nil, "grid < 4 kW until north > 1.5 kW", 500.0),
		Entry(nil, "grid < 4 kW until in 3 s..4 s north > 1.5 kW", 0.0),
		Entry(nil, "always abs(north + south) <= 100 W", 100.0),
		Entry(nil, "always (north - south) / 2 < 3 kW", -1000.0),
		Entry(nil, "always 2 * grid - 0.5 * north < 10 kW", 2000.0),
		Entry(nil, "north.soc >= 45 %", 0.05),
		Entry(nil, "north.soc >= 45 % per 10 % and grid < 18 kW per 1 kW", 0.5),
		Entry(nil, "-grid < 1 kW", 2000.0),
		Entry(nil, "north > 1 kW implies grid > 9 kW implies south > 9 kW", 8000.0),
	)

	It("says when it came to its margin", func() {
		_, at, _ := judge("always grid <= 4 kW", rising...)
		Expect(at).To(BeEquivalentTo(4))
	})

	It("is not known before its windows have passed", func() {
		_, _, known := judge("always for 5 s grid < 18 kW", rising...)
		Expect(known).To(BeFalse())
		_, _, known = judge("always grid < 18 kW and eventually within 9 s grid > 9 kW", rising...)
		Expect(known).To(BeFalse())
	})

	DescribeTable("that is wrong is refused with the place, what was found and what would be right",
		func(src string, seen types.GomegaMatcher) {
			_, err := formula.Parse(src, bakery)
			Expect(err).To(MatchError(seen))
		},
		Entry(nil, "", Equal("column 1: found the end, wanted a signal, a quantity, a bracket, or one of not, always, eventually")),
		Entry(nil, "grid", Equal("column 1: found a quantity, wanted a comparison, such as grid < 18 kW")),
		Entry(nil, "always gird < 18 kW", Equal(`column 8: found "gird", wanted one of grid, north, north.soc, south`)),
		Entry(nil, "grid < 18", Equal("column 8: found a plain number beside W, wanted quantities of one unit")),
		Entry(nil, "grid < 18 kW and north.soc > 10 %", Equal("column 18: found margins in a plain number beside margins in W, wanted one unit; divide each comparison's margin, as in grid < 18 kW per 1 kW")),
		Entry(nil, "grid < 18 kW per 1 A", Equal("column 18: found a quantity in A, wanted one in W, as in the comparison")),
		Entry(nil, "grid < 18 kW per 0 W", ContainSubstring("wanted a quantity above 0 after per")),
		Entry(nil, "eventually within 30 grid < 18 kW", Equal("column 19: found 30 of a plain number, wanted a time with its unit: ms, s, min or h")),
		Entry(nil, "eventually within 25 h grid < 18 kW", ContainSubstring("wanted at most 24h0m0s")),
		Entry(nil, "eventually in 5 s..2 s grid < 18 kW", ContainSubstring("wanted at least the window's beginning of 5s")),
		Entry(nil, "always eventually grid < 18 kW", Equal("column 8: found an operator without a window inside another temporal one, wanted a window, such as within 30 s")),
		Entry(nil, "grid * north < 1 kW", ContainSubstring("found what is no plain number")),
		Entry(nil, "grid / 0 < 1 kW", ContainSubstring("a number other than 0")),
		Entry(nil, "(grid < 1 kW", Equal(`column 13: found the end, wanted ")"`)),
		Entry(nil, "grid < 1 kW)", ContainSubstring("wanted the end, or an operator")),
		Entry(nil, "grid < 1 kW < 2 kW", ContainSubstring("found a comparison beside <")),
		Entry(nil, "grid & 1", Equal(`column 6: found "&", wanted a word, a number or one of <= >= .. < > + - * / ( ) %`)),
	)

	It("must have times that are multiples of the step", func() {
		f, err := formula.Parse("eventually within 250 ms grid < 18 kW", bakery)
		Expect(err).NotTo(HaveOccurred())
		_, err = f.Monitor(100 * time.Millisecond)
		Expect(err).To(MatchError("column 1: found a time of 250ms, wanted a multiple of the step of 100ms"))
	})

	It("nested beyond reason is refused and does not exhaust the stack", func() {
		src := ""
		for range 2000 {
			src += "("
		}
		_, err := formula.Parse(src, bakery)
		Expect(err).To(MatchError(ContainSubstring("more than 100 levels")))
	})
})
