package scenarios_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/scenarios"
)

var _ = Describe("a scenario's form", func() {
	form := func(name string) *scenarios.Form {
		GinkgoHelper()
		sc, err := scenarios.Builtin(name)
		Expect(err).NotTo(HaveOccurred())
		f, err := scenarios.NewForm(sc)
		Expect(err).NotTo(HaveOccurred())
		return f
	}

	It("gives places other values, by the names on the site and by keys", func() {
		sc, err := form("ev-start").With(
			scenarios.Change{Path: "north.battery.capacity", Value: "12.5 kWh"},
			scenarios.Change{Path: "south_ct.offset", Value: "-30 W"},
			scenarios.Change{Path: "happens.2.at", Value: "6 min"},
			scenarios.Change{Path: "happens.2.van_charger", Value: "{plug_in: 10 A}"},
			scenarios.Change{Path: "happens.+", Value: "{at: 12 min, mixer: {switch: on}}"},
			scenarios.Change{Path: "must.circulating.energy", Value: "40 Wh"},
			scenarios.Change{Path: "seed", Value: "77"},
		)
		Expect(err).NotTo(HaveOccurred())
		inverter := sc.Site.Plant.Inverters[0]
		Expect(inverter.Name).To(Equal("north"))
		Expect(inverter.Battery.CapacityWh).To(Equal(12500.0))
		Expect(sc.Events[1].At.Minutes()).To(Equal(6.0))
		Expect(sc.Events[1].Text).To(ContainSubstring("plugged in"))
		Expect(sc.Events).To(HaveLen(5))
		Expect(*sc.Must.Circulating.EnergyWh).To(Equal(40.0))
		Expect(sc.Seed).To(Equal(uint64(77)))
		text, err := sc.Resolve()
		Expect(err).NotTo(HaveOccurred())
		Expect(string(text)).To(ContainSubstring("offset: -30 W"))
	})

	It("is the scenario itself without changes, for each built-in one", func() {
		for _, name := range scenarios.BuiltinNames() {
			f := form(name)
			same, err := f.With()
			Expect(err).NotTo(HaveOccurred(), name)
			again, err := f.With(scenarios.Change{Path: "seed", Value: "5"})
			Expect(err).NotTo(HaveOccurred(), name)
			want, err := same.WithSeed(5).Resolve()
			Expect(err).NotTo(HaveOccurred())
			got, err := again.Resolve()
			Expect(err).NotTo(HaveOccurred())
			Expect(string(got)).To(Equal(string(want)), name)
		}
	})

	It("shows what stands at a path", func() {
		f := form("ev-start")
		for path, want := range map[string]string{
			"north.battery.capacity": "10 kWh", "north.inverter.loop.gain": "0.25", "must.import.below": "18 kW", "happens.2.van_charger.plug_in": "16 A",
			"commands": "[north, south]",
		} {
			value, is := f.At(path)
			Expect(is).To(BeTrue(), path)
			Expect(value).To(Equal(want))
		}
		_, is := f.At("north.battery.capacty")
		Expect(is).To(BeFalse())
	})

	DescribeTable("says what is wrong with a change", func(path, value, want string) {
		_, err := form("ev-start").With(scenarios.Change{Path: path, Value: value})
		Expect(err).To(MatchError(ContainSubstring(want)))
	},
		Entry("a name that nobody has", "nort.battery.capacity", "10 kWh", `found "nort", which is no key of ev-start and no name on its site`),
		Entry("a name that is nearly right", "nort.battery.capacity", "10 kWh", `north`),
		Entry("a key that is not known", "north.battery.capacty", "10 kWh", `capacity`),
		Entry("a value without its unit", "north.battery.capacity", "10", `capacity`),
		Entry("an entry that is not there", "happens.9.at", "1 min", `found "9", want a number from 1 to 4, or + for one more`),
		Entry("a part of a quantity", "lasts.minutes", "1 min", `found "minutes" under 35 min, which has no parts`),
		Entry("no YAML", "lasts", "{a: ", `no YAML`),
	)
})
