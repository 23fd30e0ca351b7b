package formula_test

import (
	"errors"
	"math"
	"slices"
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
func judge(src string, rows ...[3]float64) formula.Outcome {
	GinkgoHelper()
	f, err := formula.Parse(src, bakery)
	Expect(err).NotTo(HaveOccurred())
	m, err := f.Monitor(time.Second)
	Expect(err).NotTo(HaveOccurred())
	for _, r := range rows {
		m.Observe([]float64{1000 * r[0], 1000 * r[1], 1000 * r[2], 0.5})
	}
	return m.Outcome()
}

var _ = Describe("a formula", func() {
	rising := [][3]float64{{1, 0, 0}, {2, 1, -1}, {3, 2, -2}, {4, 3, -3}, {5, 4, -4}}

	DescribeTable("has the margin of signal temporal logic's quantitative semantics (Donzé, Maler 2010; worked by hand)",
		func(src string, margin float64) {
			got := judge(src, rising...)
			Expect(got.Lower).To(BeNumerically("~", margin, 1e-9))
			Expect(got.Upper).To(Equal(got.Lower), "the run tells all of it")
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

	It("says when it came to its margin, and when it was violated first", func() {
		got := judge("always grid <= 2.5 kW", rising...)
		Expect(got.UpperAt).To(BeEquivalentTo(4))
		Expect(got.Broke).To(BeEquivalentTo(2))
		Expect(judge("not eventually grid > 2.5 kW", rising...).Broke).To(BeEquivalentTo(2))
		Expect(judge("north < 500 W until grid > 9 kW", rising...).Broke).To(BeEquivalentTo(1), "what must hold did not")
		Expect(judge("eventually within 3 s grid > 9 kW", rising...).Broke).To(BeEquivalentTo(3), "when its time was over")
	})

	DescribeTable("that a run is too short for has a margin between two bounds, and is decided where both are on one side of zero",
		func(src string, lower, upper float64) {
			got := judge(src, rising...)
			Expect([]float64{got.Lower, got.Upper}).To(Equal([]float64{lower, upper}))
		},
		Entry("nothing has violated it yet", "always for 5 s grid < 18 kW", math.Inf(-1), 13000.0),
		Entry("it is violated already", "always for 9 s grid < 3 kW", math.Inf(-1), -2000.0),
		Entry("it holds already", "eventually within 9 s grid > 3 kW", 2000.0, math.Inf(1)),
		Entry("it may still come to hold", "eventually within 9 s grid > 9 kW", -4000.0, math.Inf(1)),
		Entry("what would have been asked for was not", "always (grid > 18 kW implies eventually within 9 s grid < 1 kW)", 13000.0, math.Inf(1)),
		Entry("what was asked for may still come", "always (grid > 4.5 kW implies eventually within 9 s grid < 4 kW)", -500.0, math.Inf(1)),
		Entry("it can no longer hold", "grid < 3 kW until within 9 s north > 9 kW", -5000.0, -2000.0),
		Entry("its window never began", "always from 9 s grid < 1 kW", math.Inf(-1), math.Inf(1)),
		Entry("both parts", "always grid < 9 kW and eventually within 9 s grid > 9 kW", -4000.0, 4000.0),
	)

	DescribeTable("counts the occasions on which it could have been violated",
		func(src string, occasions int) {
			Expect(judge(src, rising...).Exercised).To(BeEquivalentTo(occasions))
		},
		Entry("each instant", "always grid < 18 kW", 5),
		Entry("each of a window", "always in 1 s..2 s grid < 18 kW", 2),
		Entry("the start alone", "grid < 18 kW", 1),
		Entry("where a condition held", "always (grid > 2.5 kW implies north > 0 W)", 3),
		Entry("where a condition held, though the run ends too early for it", "always (grid > 2.5 kW implies eventually within 9 s north > 9 kW)", 3),
		Entry("where no condition ever held", "always (grid > 18 kW implies north > 9 kW)", 0),
		Entry("a condition on the whole run", "always grid < 9 kW implies always north < 9 kW", 1),
	)

	It("tells without an end of the run when it was violated", func() {
		f, err := formula.Parse("always for 9 s grid < 2.5 kW", bakery)
		Expect(err).NotTo(HaveOccurred())
		m, err := f.Monitor(time.Second)
		Expect(err).NotTo(HaveOccurred())
		for i, r := range rising {
			_, broken := m.Broken()
			Expect(broken).To(Equal(i > 2))
			m.Observe([]float64{1000 * r[0], 0, 0, 0})
		}
		at, broken := m.Broken()
		Expect(broken).To(BeTrue())
		Expect(at).To(BeEquivalentTo(2))
	})

	It("takes a name with a hyphen as a whole, and a minus with room around it as one", func() {
		signals := append(slices.Clone(bakery), formula.Signal{Name: "north-east", Unit: formula.Watt}, formula.Signal{Name: "north-east.soc"})
		f, err := formula.Parse("north-east - north < 1 kW per 1 kW and north-east.soc > 10 %", signals)
		Expect(err).NotTo(HaveOccurred())
		Expect(f.Reads()).To(Equal([]int{1, 4, 5}))
		f, err = formula.Parse("north-south < 1 kW", bakery)
		Expect(err).NotTo(HaveOccurred())
		Expect(f.Reads()).To(Equal([]int{1, 2}))
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
		Entry(nil, "grid < 18 kw", Equal(`column 11: found "kw", wanted the unit kW`)),
		Entry(nil, "grid < 18 kW adn north > 1 kW", Equal(`column 14: found "adn", wanted the end, or an operator such as and, or, until`)),
		Entry(nil, "grid & 1", Equal(`column 6: found "&", wanted a word, a number or one of <= >= .. < > + - * / ( ) %`)),
	)

	It("must have times that are multiples of the step", func() {
		f, err := formula.Parse("eventually within 250 ms grid < 18 kW", bakery)
		Expect(err).NotTo(HaveOccurred())
		_, err = f.Monitor(100 * time.Millisecond)
		Expect(err).To(MatchError("column 1: found a time of 250ms, wanted a multiple of the step of 100ms"))
		Expect(f.Check(100 * time.Millisecond)).To(MatchError(err))
		Expect(f.Check(50 * time.Millisecond)).To(Succeed())
	})

	DescribeTable("must not ask for more than a day ahead, nor for more than memory holds", func(src string, step time.Duration, found string) {
		f, err := formula.Parse(src, bakery)
		Expect(err).NotTo(HaveOccurred())
		Expect(f.Check(step)).To(MatchError(ContainSubstring(found)))
	},
		Entry(nil, "always for 20 h eventually within 20 h grid < 18 kW", time.Second, "found a look of more than 24h0m0s ahead in all"),
		Entry(nil, "always (eventually within 20 h grid < 18 kW)", 10*time.Millisecond, "found windows that keep more than 8388608 numbers in mind"),
	)

	It("says of a word that is not known which could stand in its place", func() {
		_, err := formula.Parse("always gird < 18 kW", bakery)
		var e *formula.Error
		Expect(errors.As(err, &e)).To(BeTrue())
		Expect(e.Word).To(Equal("gird"))
		Expect(e.Known).To(ContainElements("grid", "north.soc", "eventually"))
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
