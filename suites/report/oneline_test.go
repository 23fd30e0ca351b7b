package report_test

import (
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/report"
)

var _ = Describe("the single-line diagram", func() {
	site := report.Wiring{Name: "supply", Kind: "supply", Detail: "3 phases, 230 V, fuse 32 A", Within: []report.Wiring{
		{Name: "grid_meter", Kind: "meter", Detail: "every 1 s"},
		{Name: "price_signal", Kind: "tariff"},
		{Name: "bakehouse", Kind: "feeder", Within: []report.Wiring{
			{Name: "oven", Kind: "load", Symbol: "heater", Detail: "9 kW"}, {Name: "mixer", Kind: "load", Symbol: "motor", Detail: "1.5 kW"}}},
		{Name: "back_room", Kind: "feeder", Within: []report.Wiring{
			{Name: "south_ct", Kind: "meter", Reversed: true},
			{Name: "base", Kind: "load"},
			{Name: "south", Kind: "inverter", Detail: "3.6 kW, 6.4 kWh, follows south_ct"}}},
		{Name: "roof", Kind: "feeder", Within: []report.Wiring{{Name: "panels", Kind: "array"}, {Name: "van_charger", Kind: "charger"}}},
	}}

	// Graded 'regression only': they pin the drawing, and prove nothing else.
	It("is that of the golden files", func() {
		still, lying := report.Diagram(site, false)
		live, _ := report.Diagram(site, true)
		golden("site.svg", strings.ReplaceAll(still, "><", ">\n<"))
		golden("site-narrow.svg", strings.ReplaceAll(lying, "><", ">\n<"))
		golden("site-live.svg", strings.ReplaceAll(live, "><", ">\n<"))
	})

	It("has places for live figures of each device, and no figure where nothing is live", func() {
		still, _ := report.Diagram(site, false)
		live, lying := report.Diagram(site, true)
		Expect(still).NotTo(ContainSubstring("data-value"))
		for _, name := range []string{"supply", "grid_meter", "oven", "mixer", "base", "south", "panels", "van_charger"} {
			Expect(live).To(ContainSubstring(`data-value="` + name + `"`))
			Expect(lying).To(ContainSubstring(`data-value="` + name + `"`))
		}
	})

	It("lays a site that is too broad out from left to right", func() {
		broad := report.Wiring{Name: "supply", Kind: "supply"}
		for range 30 {
			broad.Within = append(broad.Within, report.Wiring{Name: "lamp", Kind: "load"})
		}
		hanging, _ := report.Diagram(broad, false)
		Expect(malformed(hanging)).To(Succeed())
		Expect(hanging).To(HavePrefix(`<svg viewBox="0 0 900 `))
		Expect(strings.Count(hanging, ">lamp</text>")).To(Equal(30))
	})
})
