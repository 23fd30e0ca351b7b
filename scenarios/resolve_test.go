package scenarios

import (
	"fmt"
	"reflect"
	"time"

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
	again, err := ParseScenario("resolved.yaml", text)
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
  - {at: 12 min, north: {fault: slow, delay: 800 ms, lasts: 30 s}}
  - {at: 13 min, south: {fault: garbage, lasts: 90 s}}
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
			again, err := ParseScenario("resolved.yaml", text)
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

// fill sets every number and switch of a value to something that is not zero, and
// makes what may be absent, so that what is lost on the way shows. Numbers rise, as
// the points of a curve must. Indices and words stay as they are.
func fill(v reflect.Value, n *int) {
	*n++
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), n)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), n)
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range v.Len() {
			fill(v.Index(i), n)
		}
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), n)
	case reflect.Float64:
		v.SetFloat(float64(*n) / 1024)
	case reflect.Int64:
		v.SetInt(int64(*n) * 1000)
	case reflect.Bool:
		v.SetBool(true)
	}
}

// asKind leaves a load the parameters of one kind.
func asKind(l physics.LoadParams, kind physics.LoadKind) physics.LoadParams {
	l.Kind = kind
	if kind != physics.ThermostatLoad {
		l.TimeConstantS, l.HeatedC, l.CutInC, l.CutOutC, l.InitialC = 0, 0, 0, 0, 0
	}
	if kind != physics.MotorLoad {
		l.InrushFactor, l.InrushS = 0, 0
	}
	if kind != physics.ProfileLoad {
		l.Profile = nil
	}
	if kind != physics.BurstLoad {
		l.Duty, l.PeriodS = 0, 0
	}
	if kind != physics.RandomLoad {
		l.MeanOnS, l.MeanGapS, l.HourShare = 0, 0, [24]float64{}
	}
	return l
}

// filled is a site with something in every parameter. The words are the last ones.
func filledSite() *Site {
	s := mustParse(shortHead).Site
	p := &s.Plant
	n := 0
	for _, list := range []any{p.Meters, p.Inverters, p.Arrays, p.Loads, p.Chargers} {
		v := reflect.ValueOf(list)
		for i := range v.Len() {
			one := v.Index(i)
			for j := range one.NumField() {
				fill(one.Field(j), &n)
			}
		}
	}
	fill(reflect.ValueOf(&p.Supply).Elem(), &n)
	fill(reflect.ValueOf(&p.Sky).Elem(), &n)
	p.Sky.ClearSky, p.Sky.Diffuse, p.Sky.Irradiance = physics.SimplifiedSolis, physics.HayDavies, nil
	class, transformers := physics.MeterClass05S, physics.CTClass5
	p.Meters[0].Class, p.Meters[0].CTClass = &class, &transformers
	p.Meters[0].CTs[1].Clasps, p.Meters[0].CTs[2].Clasps = physics.L3, physics.L1
	for i := range p.Inverters {
		v := &p.Inverters[i]
		v.Backup.Feeder = v.Feeder
		v.Battery.Cell.InitialSOC = 0 // the battery's stands for it
		v.Battery.Cell.Series, v.Battery.Cell.Parallel = 16, 2
		v.EfficiencyForm, v.Sandia = physics.PartLoadEfficiency, physics.SandiaInverter{}
		v.Loop.Form, v.Loop.Deadband = physics.FeedForward, physics.Hysteresis
		v.Response.Trips[1].Kind = physics.OverFrequency
	}
	fill(reflect.ValueOf(&p.Inverters[1].Sandia).Elem(), &n)
	p.Inverters[1].EfficiencyForm = physics.SandiaEfficiency
	p.Inverters[1].Timed[1].PowerW *= -1
	p.Arrays[0].Inverter = 1
	return s
}

var _ = Describe("the file format", func() {
	// A parameter that the plant has and the format lacks would be lost from a run's
	// folder, and the run could not be repeated.
	It("has a word for every parameter of the plant", func() {
		for kind := physics.ConstantLoad; kind <= physics.RandomLoad; kind++ {
			s := filledSite()
			p := &s.Plant
			for i := range p.Loads {
				p.Loads[i] = asKind(p.Loads[i], kind)
			}
			file, err := siteFileOf(s)
			Expect(err).NotTo(HaveOccurred())
			again := buildSite(file, &calendar{findings: &findings{}, lasts: time.Hour, step: time.Millisecond})
			again.Plant.StepMS, again.Plant.Seed, again.Plant.Sky.StartUnixS = p.StepMS, p.Seed, p.Sky.StartUnixS
			again.Plant.StartSecondOfDay = p.StartSecondOfDay
			Expect(again.Plant.Supply).To(Equal(p.Supply))
			Expect(again.Plant.Meters).To(Equal(p.Meters))
			for i := range p.Inverters {
				Expect(again.Plant.Inverters[i].Battery).To(Equal(p.Inverters[i].Battery))
				Expect(again.Plant.Inverters[i].Response).To(Equal(p.Inverters[i].Response))
				Expect(again.Plant.Inverters[i]).To(Equal(p.Inverters[i]))
			}
			Expect(again.Plant.Loads).To(Equal(p.Loads))
			Expect(again.Plant).To(Equal(*p))
		}
	})

	It("has a word for every parameter of what happens", func() {
		s := mustParse(shortHead)
		for _, action := range []physics.Action{
			&physics.SwitchLoad{}, &physics.SetLoad{}, &physics.PlugIn{}, &physics.PassCloud{}, &physics.BrokenClouds{},
			&physics.Trip{}, &physics.SetSOC{}, &physics.JumpSOC{}, &physics.SetGridVoltage{}, &physics.SetGridFrequency{},
			&physics.GridReturns{},
		} {
			n := 0
			v := reflect.ValueOf(action).Elem()
			fill(v, &n)
			filled := v.Interface().(physics.Action)
			device := map[reflect.Type]string{
				reflect.TypeFor[physics.SwitchLoad](): "oven", reflect.TypeFor[physics.SetLoad](): "oven", reflect.TypeFor[physics.PlugIn](): "van_charger",
				reflect.TypeFor[physics.PassCloud](): SkyName, reflect.TypeFor[physics.BrokenClouds](): SkyName,
				reflect.TypeFor[physics.Trip](): "north", reflect.TypeFor[physics.SetSOC](): "north", reflect.TypeFor[physics.JumpSOC](): "north",
				reflect.TypeFor[physics.SetGridVoltage](): SupplyName, reflect.TypeFor[physics.SetGridFrequency](): SupplyName,
				reflect.TypeFor[physics.GridReturns](): SupplyName,
			}[v.Type()]
			e := Event{Device: device, Action: filled, Text: "t"}
			out := &findings{}
			b := &eventBuilder{calendar: &calendar{findings: out, lasts: time.Hour, step: time.Millisecond}, site: s.Site}
			b.event(e.file())
			Expect(b.events).To(HaveLen(1))
			Expect(b.events[0].Action).To(Equal(filled))
		}
	})
})
