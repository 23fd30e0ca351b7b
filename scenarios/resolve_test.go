package scenarios

import (
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/physics"
)

// withoutPlaces clears what says only where in a file something stands.
func withoutPlaces(s *Scenario) Scenario {
	c := *s
	site := *s.Site
	site.Devices = append([]Device(nil), site.Devices...)
	for i, d := range site.Devices {
		if d.Wire != nil {
			w := *d.Wire
			w.Line, w.File = 0, ""
			site.Devices[i].Wire = &w
		}
	}
	site.Source, c.Site, c.Source = "", &site, ""
	c.Events = append([]Event(nil), c.Events...)
	for i := range c.Events {
		c.Events[i].Line = 0
	}
	return c
}

func expectRoundTrip(s *Scenario) {
	GinkgoHelper()
	text, err := s.Resolve()
	Expect(err).NotTo(HaveOccurred())
	again, err := parseScenario("resolved.yaml", text)
	Expect(err).NotTo(HaveOccurred(), string(text))
	Expect(withoutPlaces(again)).To(Equal(withoutPlaces(s)))
	twice, err := again.Resolve()
	Expect(err).NotTo(HaveOccurred())
	Expect(string(twice)).To(Equal(string(text)))
}

var _ = Describe("a resolved scenario", func() {
	for _, name := range BuiltinNames() {
		It("loads again to the same thing: "+name, func() {
			s, err := Builtin(name)
			Expect(err).NotTo(HaveOccurred())
			expectRoundTrip(s)
		})
	}

	It("does so on every built-in site", func() {
		for _, site := range BuiltinSites() {
			expectRoundTrip(mustParse(fmt.Sprintf("format: 1\nscenario: X\nsite: %s\nstarts: 2026-06-18 01:30\nlasts: 1 min\n", site)))
		}
	})

	It("does so with all that can happen, a measured sky, and texts that YAML would misread", func() {
		s := mustParse(shortHead + `story: |
  First line: with "quotes", # no comment.

    Indented, and *starred.
commands: []
export_wanted: [03:00 to 03:30]
happens:
  - {at: 1 min, oven: {switch: on}, text: "yes: {no} # 'x'"}
  - {at: 4 min, van_charger: unplug, text: "null"}
  - {at: 5 min, sky: {cloud: {depth: 75 %, edge: 4 s, lasts: 90 s, enhancement: 10 %}}}
  - {at: 6 min, sky: {broken_clouds: {gap: 60 s, lasts: 40 s, depth: 40 % to 80 %, edge: 5 s}}}
  - {at: 7 min, sky: clear}
  - {at: 8 min, south_ct: {fault: frozen, lasts: 1 min}}
  - {at: 9 min, north: {trip: 2 min}}
  - {at: 10 min, north: {soc: 60 %}}
  - {at: 11 min, north: {fault: silent, lasts: 30 s}}
must: {export: {below: 1 kW}, soc_spread: {below: 8 %, from: 10 min}}
`)
		s = s.WithSeed(1 << 63).WithSky([]physics.IrradiancePoint{{AtMS: -30_000, GHI: 0}, {AtMS: 90_500, GHI: 443.217}})
		expectRoundTrip(s)
	})

	It("does so for any seed, text, power and share that a search may choose", func() {
		base := mustParse(shortHead)
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			s := base.WithSeed(rapid.Uint64().Draw(t, "seed"))
			s.Title = "x" + tidy(rapid.StringN(0, 40, -1).Draw(t, "title")) + "x"
			s.Story = tidy("y" + rapid.StringOf(rapid.RuneFrom([]rune("ab \n\t:#-'\"{}&*é\u0007"))).Draw(t, "story") + "y")
			s.Events = []Event{
				{Device: "base", Action: physics.SetLoad{Load: 3, PowerW: rapid.Float64Range(0, 1e5).Draw(t, "power")}, Text: "t"},
				{Device: "north", Action: physics.SetSOC{SOC: rapid.Float64Range(0, 1).Draw(t, "soc")}, Text: "t"},
			}
			text, err := s.Resolve()
			if err != nil {
				t.Fatal(err)
			}
			again, err := parseScenario("resolved.yaml", text)
			if err != nil {
				t.Fatalf("%v in\n%s", err, text)
			}
			if a, b := withoutPlaces(again), withoutPlaces(s); a.Title != b.Title || a.Story != b.Story || a.Seed != b.Seed ||
				a.Events[0].Action != b.Events[0].Action || a.Events[1].Action != b.Events[1].Action {
				t.Fatalf("%q %q %v\n%q %q %v", a.Title, a.Story, a.Events, b.Title, b.Story, b.Events)
			}
		})
	})
})
