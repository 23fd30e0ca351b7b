package scenarios

import (
	"os"
	"reflect"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/formula"
)

var _ = Describe("what must hold", func() {
	It("has a word for each criterion, and loads again from what it resolves to", func() {
		s, err := LoadScenario("testdata/all-criteria.yaml")
		Expect(err).NotTo(HaveOccurred())
		all := reflect.ValueOf(s.Must)
		for i := range all.NumField() {
			Expect(all.Field(i).IsNil()).To(BeFalse(), all.Type().Field(i).Name)
		}
		expectRoundTrip(s)
	})

	It("conforms to the schema in all its words", func() {
		text, err := os.ReadFile("testdata/all-criteria.yaml")
		Expect(err).NotTo(HaveOccurred())
		Expect(judge(text)).To(BeEmpty())
	})

	It("is read in the units that are written", func() {
		s, err := LoadScenario("testdata/all-criteria.yaml")
		Expect(err).NotTo(HaveOccurred())
		m := s.Must
		Expect(*m.Export.EnergyWh).To(Equal(0.0), "no energy at all is a bound too")
		Expect(*m.Circulating.Episode).To(Equal(2 * time.Minute))
		Expect(*m.Schedule.During).To(Equal(Window{30 * time.Minute, 90 * time.Minute}))
		Expect(*m.Wear.CyclesPerDay).To(Equal(1.5))
		Expect(*m.CommandEconomy.WritesPerHour).To(Equal(120.0))
		Expect(m.WireManners).To(Equal(&WireManners{Exceptions: 3, ReadsPerS: 2.5, Over: 30 * time.Second}))
		Expect(m.FailSafe.NativeIsSafe).To(BeFalse())
	})

	It("leaves to the site and the story what is not said", func() {
		m := mustParse(shortHead + "cheap: [02:00 to 03:00]\nmust: {supply_current: {}, schedule: {target: 90 %}, reserve: {}, wire_manners: {}, " +
			"settle: {band: 200 W, within: 60 s}, fail_safe: {below: 0 W, within: 60 s}}\n").Must
		Expect(m.SupplyCurrent).To(Equal(&SupplyCurrent{}), "the fuse")
		Expect(m.Schedule).To(Equal(&Schedule{Target: 0.9}), "each cheap window, the supply's limit, the site's worst battery")
		Expect(m.Reserve).To(Equal(&Reserve{}))
		Expect(m.WireManners).To(Equal(&WireManners{Over: 10 * time.Second}))
		Expect(m.Settle.OvershootW).To(BeNil())
		Expect(m.FailSafe.NativeIsSafe).To(BeTrue())
		Expect(m.Wear).To(BeNil())
	})

	It("knows three ways in which an inverter's own loop is safe", func() {
		for word, want := range map[string]FailSafe{
			"yes": {NativeIsSafe: true}, "narrowed": {NativeIsSafe: true, NarrowedIsSafe: true}, "no": {},
		} {
			s := mustParse(shortHead + "must: {fail_safe: {below: 0 W, within: 60 s, native_is_safe: " + word + "}}\n")
			want.Within = time.Minute
			Expect(*s.Must.FailSafe).To(Equal(want))
			expectRoundTrip(s)
		}
	})

	It("holds sentences of the author's own, in the order of the file and each on one line", func() {
		s := mustParse(shortHead + `must:
  formula:
    second: 'always grid <   18 kW'
    first: |
      always (
        grid > 18 kW implies
        eventually within 20 s (grid <= 18 kW)
      )
`)
		Expect(s.Must.Formulas).To(Equal([]Formula{
			{"second", "always grid <   18 kW"},
			{"first", "always (grid > 18 kW implies eventually within 20 s (grid <= 18 kW))"},
		}))
		expectRoundTrip(s)
	})

	It("may speak of the whole site, and of each of its devices by name", func() {
		s := mustParse(shortHead + "must: {import: {below: 1 kW}}\n")
		for _, x := range s.Site.Signals() {
			limit := map[formula.Unit]string{formula.Watt: "90 kW", formula.Ampere: "900 A", formula.Number: "110 %"}[x.Unit]
			again := mustParse(shortHead + "must: {formula: {one: always abs(" + x.Name + ") < " + limit + "}}\n")
			Expect(again.Must.Formulas).To(HaveLen(1), x.Name)
			expectRoundTrip(again)
		}
	})
})
