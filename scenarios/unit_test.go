package scenarios

import (
	"math"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("a quantity", func() {
	DescribeTable("is read in any unit of its dimension",
		func(dimension, text string, want float64) {
			v, wanted, _ := dimensions[dimension].parse(text)
			Expect(wanted).To(BeEmpty())
			Expect(v).To(Equal(want))
		},
		Entry("kW", "power", "3.6 kW", 3600.0),
		Entry("W", "power", "-8 W", -8.0),
		Entry("ramp", "ramp", "250 W/s", 250.0),
		Entry("ms", "time", "200 ms", 0.2),
		Entry("min", "time", "40 min", 2400.0),
		Entry("h", "time", "1.5 h", 5400.0),
		Entry("kWh", "energy", "6.4 kWh", 6400.0),
		Entry("percent is the very float of its decimal", "share", "35 %", 0.35),
		Entry("V", "voltage", "230 V", 230.0),
		Entry("A", "current", "32 A", 32.0),
		Entry("ohm", "resistance", "0.24 ohm", 0.24),
		Entry("deg", "angle", "40 deg", 40.0),
		Entry("per kelvin", "perkelvin", "-0.4 %/K", -0.004),
		Entry("degC", "temperature", "4 degC", 4.0),
		Entry("without a blank", "power", "3.6kW", 3600.0),
		Entry("an exponent", "power", "1e3 W", 1000.0),
		Entry("a plain number where no unit is due", "number", "0.25", 0.25),
	)

	DescribeTable("that is wrong tells what would be right",
		func(dimension, text, want string) {
			_, wanted, hint := dimensions[dimension].parse(text)
			Expect(wanted + "; " + hint).To(Equal(want))
		},
		Entry("no unit", "power", "3600", "a power in kW or W; write 3600 W or 3.6 kW"),
		Entry("no unit, small", "power", "18", "a power in kW or W; write 18 W or 18 kW, whichever is meant"),
		Entry("another unit", "power", "6.4 kWh", "a power in kW or W; kWh is the unit of an energy"),
		Entry("another case", "power", "3.6 KW", "a power in kW or W; write 3.6 kW"),
		Entry("no such unit", "current", "5 hp", `a current in A or mA; the unit "hp" is not known here`),
		Entry("no number", "energy", "much", "an energy in kWh or Wh; write it like 6.4 kWh"),
		Entry("a unit where none is due", "number", "0.2 W", "a number without unit; write 0.2"),
		Entry("not finite", "power", "1e999 W", "a power in kW or W; that is beyond all measure"),
		Entry("too much", "time", "1e12 s", "a time in h, min, s or ms; that is beyond all measure"),
	)

	DescribeTable("is written as a person would",
		func(dimension string, v float64, want string) {
			Expect(dimensions[dimension].format(v)).To(Equal(want))
		},
		Entry("kW", "power", 3600.0, "3.6 kW"),
		Entry("W", "power", 250.0, "250 W"),
		Entry("nothing", "power", 0.0, "0 W"),
		Entry("negative nothing", "power", math.Copysign(0, -1), "0 W"),
		Entry("ms", "time", 0.2, "200 ms"),
		Entry("s", "time", 90.0, "90 s"),
		Entry("h", "time", 14400.0, "4 h"),
		Entry("%", "share", 0.35, "35 %"),
		Entry("a number", "number", 0.25, "0.25"),
	)

	It("reads back as the very same float, whatever it is", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			d := dimensions[rapid.SampledFrom(slices.Sorted(func(yield func(string) bool) {
				for name := range dimensions {
					if !yield(name) {
						return
					}
				}
			})).Draw(t, "dimension")]
			v := rapid.Float64Range(-most, most).Draw(t, "value")
			back, wanted, hint := d.parse(d.format(v))
			if wanted != "" || back != v {
				t.Fatalf("%g was written %q and read as %g (%s)", v, d.format(v), back, hint)
			}
		})
	})

	It("never panics on any text, and never accepts one without a digit", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			text := rapid.StringOf(rapid.RuneFrom([]rune("0123456789+-.eE kWhms%/KAV"))).Draw(t, "text")
			_, wanted, _ := dimensions["power"].parse(text)
			if wanted == "" && !strings.ContainsAny(text, "0123456789") {
				t.Fatalf("%q was accepted", text)
			}
		})
	})
})
