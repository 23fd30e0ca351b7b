package scenarios

import (
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/physics"
)

const netSite = `format: 1
scenario: A net load and a running inverter
site:
  site: shed
  supply:
    phases: 1
    meters: {inlet: {refresh: 1 s}}
    devices:
      rest: {load: {NETprofile: [{at: 0 s, power: 300 W}, {at: 10 s, power: -1.2 kW}]}}
      north: {inverter: {rating: 3 kW, starts_with: START, battery: {capacity: 5 kWh}, loop: {follows: inlet, gain: 0.2}}}
starts: 2026-06-18 01:30
lasts: 1 min
must: {import: {below: 18 kW}}
`

var _ = Describe("a net load", func() {
	It("may feed, and says so again when it is resolved", func() {
		s, err := ParseScenario("shed.yaml", []byte(strings.NewReplacer("NET", "net: yes, ", "START", "-800 W").Replace(netSite)))
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Site.Plant.Loads[0].Profile[1]).To(Equal(physics.ProfilePoint{AtMS: 10_000, PowerW: -1200}))
		expectRoundTrip(s)
	})

	It("is refused where a load can only draw", func() {
		_, err := ParseScenario("shed.yaml", []byte(strings.NewReplacer("NET", "", "START", "0 W").Replace(netSite)))
		Expect(err).To(MatchError(ContainSubstring("profile[2].power: found -1.2 kW, wanted 0 W or more, since a load draws (net: yes says that it may feed)")))
	})
})

var _ = Describe("an inverter that starts with a power", func() {
	It("runs at it from the first instant", func() {
		s, err := ParseScenario("shed.yaml", []byte(strings.NewReplacer("NET", "net: yes, ", "START", "-800 W").Replace(netSite)))
		Expect(err).NotTo(HaveOccurred())
		p, err := physics.New(s.Site.Plant)
		Expect(err).NotTo(HaveOccurred())
		Expect(p.Inverters[0].PowerW).To(Equal(-800.0))
		Expect(p.GridW).To(Equal(-500.0))
	})

	It("starts with no more than its rating", func() {
		_, err := ParseScenario("shed.yaml", []byte(strings.NewReplacer("NET", "net: yes, ", "START", "-3.5 kW").Replace(netSite)))
		Expect(err).To(MatchError(ContainSubstring("starts_with: found -3.5 kW, wanted at most the rating of 3 kW")))
	})
})
