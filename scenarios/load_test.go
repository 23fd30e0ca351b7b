package scenarios

import (
	"os"
	"path/filepath"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/physics"
)

const shortHead = `format: 1
scenario: A short one
site: bakery
starts: 2026-06-18 01:30
zone: Europe/Oslo
lasts: 4 h
`

// mustParse reads a scenario; one that does not say what must hold is given something.
func mustParse(text string) *Scenario {
	GinkgoHelper()
	if !strings.Contains(text, "\nmust:") {
		text += "must: {import: {below: 18 kW}}\n"
	}
	s, err := ParseScenario("short.yaml", []byte(text))
	Expect(err).NotTo(HaveOccurred())
	return s
}

var _ = Describe("a scenario", func() {
	It("has defaults for what it does not say", func() {
		s := mustParse(shortHead)
		Expect(s.Name).To(Equal("short"))
		Expect(s.Step).To(Equal(100 * time.Millisecond))
		Expect(s.Seed).To(Equal(uint64(1)))
		Expect(s.Commands).To(Equal([]string{"north", "south"}), "every inverter on the wire")
	})

	It("hands its step, seed and start on to the plant", func() {
		s := mustParse(shortHead + "seed: 42\nstep: 50 ms\n")
		Expect(s.Site.Plant.StepMS).To(Equal(int64(50)))
		Expect(s.Site.Plant.Seed).To(Equal(uint64(42)))
		// 01:30 in Oslo is 23:30 UTC in summer.
		Expect(s.Starts.UTC().Format(time.RFC3339)).To(Equal("2026-06-17T23:30:00Z"))
		Expect(s.Site.Plant.Sky.StartUnixS).To(Equal(s.Starts.Unix()))
	})

	It("takes another seed or sky without changing the one it came from", func() {
		s := mustParse(shortHead)
		other := s.WithSeed(7).WithSky([]physics.IrradiancePoint{{AtMS: 0, GHI: 5}})
		Expect(other.Seed).To(Equal(uint64(7)))
		Expect(other.Site.Plant.Seed).To(Equal(uint64(7)))
		Expect(other.Site.Plant.Sky.Irradiance).To(HaveLen(1))
		Expect(s.Seed).To(Equal(uint64(1)))
		Expect(s.Site.Plant.Seed).To(Equal(uint64(1)))
		Expect(s.Site.Plant.Sky.Irradiance).To(BeEmpty())
	})

	It("reads every link fault, with a delay where it is one of time", func() {
		s := mustParse(shortHead + `happens:
  - {at: 1 min, north: {fault: slow, delay: 800 ms, lasts: 30 s}}
  - {at: 2 min, north: {fault: jittery, delay: 3 s, lasts: 30 s}}
  - {at: 3 min, north: {fault: refuses, lasts: 30 s}}
  - {at: 4 min, north: {fault: resets, lasts: 30 s}}
  - {at: 5 min, north: {fault: busy, lasts: 30 s}}
  - {at: 6 min, van_charger: {fault: stale, lasts: 30 s}}
  - {at: 7 min, north: {fault: garbage, lasts: 30 s}}
`)
		want := []LinkFault{{Kind: Slow, Delay: 800 * time.Millisecond}, {Kind: Jittery, Delay: 3 * time.Second},
			{Kind: Refuses}, {Kind: Resets}, {Kind: Busy}, {Kind: Stale}, {Kind: Garbage}}
		for i, e := range s.Events {
			want[i].Lasts = 30 * time.Second
			Expect(*e.Link).To(Equal(want[i]))
			Expect(e.Disturbs).To(BeFalse())
		}
		Expect(s.Events[0].Text).To(Equal("north: fault: slow, lasts: 30 s, delay: 800 ms"))
		Expect(s.Events).To(HaveLen(len(want)))
		expectRoundTrip(s)
	})

	It("reads the manners of a device's interface", func() {
		folder := GinkgoT().TempDir()
		path := filepath.Join(folder, "site.yaml")
		Expect(os.WriteFile(path, []byte(`format: 1
site: lone
supply:
  phases: 1
  devices:
    lone:
      inverter: {rating: 5 kW, battery: {capacity: 10 kWh, soc: 50 %}}
      wire: {map: south, refresh: 2 s, clients: 1, gap: 50 ms, slow: 200 ms, endurance: 100000}
`), 0o644)).To(Succeed())
		Expect(os.WriteFile(filepath.Join(folder, "story.yaml"), []byte("format: 1\nscenario: X\nsite: site.yaml\nstarts: 2026-06-18 01:30\nlasts: 1 min\nmust: {import: {below: 1 kW}}\n"), 0o644)).To(Succeed())
		s, err := LoadScenario(filepath.Join(folder, "story.yaml"))
		Expect(err).NotTo(HaveOccurred())
		w := s.Site.Devices[0].Wire
		Expect([]time.Duration{w.Refresh, w.Gap, w.Slow}).To(Equal([]time.Duration{2 * time.Second, 50 * time.Millisecond, 200 * time.Millisecond}))
		Expect([]int{w.Clients, w.Endurance}).To(Equal([]int{1, 100_000}))
		expectRoundTrip(s)
	})

	It("reads every kind of event into the plant's action", func() {
		s := mustParse(shortHead + `happens:
  - {at: 1 min, oven: {switch: on}}
  - {at: 2 min, base: {power: 1.2 kW}}
  - {at: 3 min, van_charger: {plug_in: 16 A, energy: 20 kWh}}
  - {at: 4 min, van_charger: unplug}
  - {at: 5 min, sky: {cloud: {depth: 75 %, edge: 4 s, lasts: 90 s, enhancement: 10 %}}}
  - {at: 6 min, sky: {broken_clouds: {gap: 60 s, lasts: 40 s, depth: 40 % to 80 %, edge: 5 s}}}
  - {at: 7 min, sky: clear}
  - {at: 8 min, south_ct: {fault: reversed}}
  - {at: 9 min, north: {trip: 2 min}}
  - {at: 10 min, north: {soc: 60 %}}
  - {at: 11 min, north: {fault: silent, lasts: 30 s}}
`)
		index := func(name string) int { d, _ := s.Site.Find(name); return d.Index }
		want := []physics.Action{
			physics.SwitchLoad{Load: index("oven"), On: true},
			physics.SetLoad{Load: index("base"), PowerW: 1200},
			physics.PlugIn{Charger: 0, CurrentA: 16, EnergyWh: 20000},
			physics.Unplug{Charger: 0},
			physics.PassCloud{Depth: 0.75, EdgeS: 4, LastsS: 90, Enhancement: 0.1},
			physics.BrokenClouds{On: true, MeanGapS: 60, MeanLastS: 40, MinDepth: 0.4, MaxDepth: 0.8, EdgeS: 5, MaxEdgeS: 5},
			physics.BrokenClouds{},
			physics.SetMeterFault{Meter: index("south_ct"), Fault: physics.MeterReversed},
			physics.Trip{Inverter: 0, LastsS: 120},
			physics.SetSOC{Inverter: 0, SOC: 0.6},
			nil,
		}
		Expect(s.Events).To(HaveLen(len(want)))
		for i, e := range s.Events {
			if want[i] == nil {
				Expect(e.Action).To(BeNil())
				Expect(e.Link).To(Equal(&LinkFault{Kind: Silent, Lasts: 30 * time.Second}))
			} else {
				Expect(e.Action).To(Equal(want[i]))
			}
			Expect(e.At).To(Equal(time.Duration(i+1) * time.Minute))
			Expect(e.Line).To(Equal(8 + i))
		}
		Expect(s.Events[0].Text).To(Equal("oven: switch: on"))
		Expect(s.Events[3].Text).To(Equal("van_charger: unplug"))
	})

	It("knows which events disturb the inlet, unless it is told", func() {
		s := mustParse(shortHead + `happens:
  - {at: 1 min, oven: {switch: on}}
  - {at: 2 min, oven: {switch: off}, disturbs: no}
  - {at: 3 min, north: {soc: 60 %}}
  - {at: 4 min, south_ct: {fault: frozen}, disturbs: yes}
`)
		var disturbs []bool
		for _, e := range s.Events {
			disturbs = append(disturbs, e.Disturbs)
		}
		Expect(disturbs).To(Equal([]bool{true, false, false, true}))
	})

	It("knows how long a disturbance goes on to move the net load", func() {
		s := mustParse(shortHead + `happens:
  - {at: 1 min, oven: {switch: on}}
  - {at: 2 min, van_charger: {plug_in: 16 A}}
  - {at: 3 min, sky: {cloud: {depth: 80 %, edge: 4 s, lasts: 60 s}}}
  - {at: 5 min, sky: {cloud: {depth: 80 %, edge: 4 s, lasts: 60 s, enhancement: 10 %}}}
  - {at: 7 min, sky: {broken_clouds: {gap: 20 s, lasts: 20 s, depth: 50 %}}}
  - {at: 8 min, sky: clear}
  - {at: 9 min, sky: {broken_clouds: {gap: 20 s, lasts: 20 s, depth: 50 %}}}
`)
		var unfolds []time.Duration
		for _, e := range s.Events {
			unfolds = append(unfolds, e.Unfolds)
		}
		// The charger answers after 3 s, with 5 A/s; this scenario lasts 10 min.
		Expect(unfolds).To(Equal([]time.Duration{0, 6200 * time.Millisecond, time.Minute, 68 * time.Second, time.Minute, 0, s.Lasts - 9*time.Minute}))
	})

	It("makes the end of a meter's fault an event of its own", func() {
		s := mustParse(shortHead + "happens: [{at: 1 min, south_ct: {fault: frozen, lasts: 5 min}}, {at: 2 min, oven: {switch: on}}]\n")
		Expect(s.Events).To(HaveLen(3))
		Expect(s.Events[1].Device).To(Equal("oven"), "events are in the order of their time")
		Expect(s.Events[2].At).To(Equal(6 * time.Minute))
		Expect(s.Events[2].Action).To(Equal(physics.SetMeterFault{Meter: 2, Fault: physics.MeterSound}))
	})

	It("reads clock times and windows on the local clock", func() {
		s := mustParse(shortHead + `cheap: [02:00 to 05:00]
import_wanted: [00:00 to 02:15, 90 min to 2 h]
happens: [{at: 02:30, oven: {switch: on}}]
`)
		Expect(s.Events[0].At).To(Equal(time.Hour))
		Expect(s.Cheap).To(Equal([]Window{{30 * time.Minute, 210 * time.Minute}}))
		Expect(s.ImportWanted).To(Equal([]Window{{0, 45 * time.Minute}, {90 * time.Minute, 2 * time.Hour}}), "cut to the run")
	})

	It("repeats clock windows each day, over midnight and over a change of the clocks", func() {
		// In Oslo the clocks are put forward on 29 March 2026 at 02:00: that night is an hour
		// shorter (EU directive 2000/84/EC, article 2).
		s := mustParse("format: 1\nscenario: Two nights\nsite: bakery\nstarts: 2026-03-28 12:00\nzone: Europe/Oslo\nlasts: 48 h\ncheap: [23:00 to 05:00]\n")
		Expect(s.Cheap).To(Equal([]Window{
			{11 * time.Hour, 16 * time.Hour},
			{34 * time.Hour, 40 * time.Hour},
		}))
	})

	It("reads a site written out in it, and site files relative to it", func() {
		dir := GinkgoT().TempDir()
		write := func(name, text string) string {
			path := filepath.Join(dir, name)
			Expect(os.MkdirAll(filepath.Dir(path), 0o755)).To(Succeed())
			Expect(os.WriteFile(path, []byte(text), 0o644)).To(Succeed())
			return path
		}
		write("sites/corner.yaml", "format: 1\nsite: corner\nsupply:\n  phases: 1\n  meters: {ct: {refresh: 1 s, wire: {map: my-meter.yaml}}}\n  devices: {lamp: {load: {power: 60 W}}}\n")
		write("sites/varied.yaml", "format: 1\nsite: varied\nbased_on: ./corner.yaml\ntitle: Varied\n")
		path := write("story.yaml", "format: 1\nscenario: X\nsite: sites/varied.yaml\nstarts: 2026-06-18 01:30\nlasts: 1 min\nmust: {import: {below: 1 kW}}\n")
		s, err := LoadScenario(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Name).To(Equal("story"))
		Expect(s.Site.Name).To(Equal("varied"))
		ct, _ := s.Site.Find("ct")
		Expect(ct.Wire.Map).To(Equal(filepath.Join(dir, "sites", "my-meter.yaml")), "maps are relative to the file that names them")
		Expect(ct.Wire.File).To(Equal(filepath.Join(dir, "sites", "corner.yaml")))
		found, err := Find(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(found.Name).To(Equal("story"))
	})
})

var _ = Describe("moving things to other feeders", func() {
	const tree = `format: 1
site: tree
supply:
  phases: 3
  feeders:
    a: {feeders: {inner: {devices: {x: {load: {power: 1 W}}}}}}
    b: {devices: {y: {load: {power: 1 W}}}}
    c: {}
`
	moved := func(moves string) *Site {
		GinkgoHelper()
		f := &siteFile{}
		out := &findings{}
		Expect(readInto(f, "tree.yaml", []byte(tree+"move: "+moves+"\n"), out)).To(Succeed())
		applyMoves(f, f.Move, out)
		Expect(out.err()).NotTo(HaveOccurred())
		s := buildSite(f, aloneDay(DefaultStep, out))
		Expect(out.err()).NotTo(HaveOccurred())
		return s
	}
	parents := func(s *Site) map[string]string {
		m := map[string]string{}
		for _, f := range s.Plant.Feeders[1:] {
			m[f.Name] = s.Plant.Feeders[f.Parent].Name
		}
		for _, d := range s.Devices {
			m[d.Name] = d.Feeder
		}
		return m
	}

	It("takes a whole branch along", func() {
		Expect(parents(moved("{a: c}"))).To(Equal(map[string]string{"a": "c", "inner": "a", "x": "inner", "b": "supply", "y": "b", "c": "supply"}))
	})

	It("may go up as well as down, in the order of the file", func() {
		Expect(parents(moved("{inner: supply, a: inner, y: a, x: c}"))).To(Equal(
			map[string]string{"inner": "supply", "a": "inner", "y": "a", "x": "c", "b": "supply", "c": "supply"}))
	})
})
