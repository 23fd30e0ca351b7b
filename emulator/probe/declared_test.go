package probe_test

import (
	"encoding/json"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/probe"
	"kilter/emulator/registers"
)

var _ = Describe("Signals of a declared map", func() {
	read := func(file string, fill func(v *registers.Values)) []probe.Point {
		GinkgoHelper()
		m, err := registers.LoadMap(filepath.Join("../../testdata/maps", file))
		Expect(err).NotTo(HaveOccurred())
		image := registers.NewImage(m, registers.Options{Model: "tester"})
		v := registers.Unknown()
		fill(&v)
		image.Refresh(&v)
		r, err := look(&imaged{&memory{}, image}, probe.Request{Map: m})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Map).To(Equal(m.Name))
		return r.Signals
	}

	It("come inside out: power into the device positive, whatever the register's sign", func() {
		got := read("awkward_north.yaml", func(v *registers.Values) {
			v[registers.ACPower], v[registers.SOC] = -1234.5, 0.57
		})
		Expect(named(got, "ac_power").Value).To(Equal(-1234.5))
		Expect(named(got, "ac_power").Text()).To(Equal("-1234.5 W"))
		Expect(named(got, "ac_power").Raw).To(Equal("0x00003039"))
		Expect(named(got, "soc").Text()).To(Equal("57 %"))
		Expect(named(got, "battery_voltage").Text()).To(Equal("not known"))
	})

	It("come from split registers, coils and floats with the low word first", func() {
		got := read("split_east.yaml", func(v *registers.Values) {
			v[registers.ACPower], v[registers.BatteryPower], v[registers.Temperature] = 1500, -820, 21
		})
		Expect(named(got, "battery_power/charging").Text()).To(Equal("0 W"))
		Expect(named(got, "battery_power/discharging").Text()).To(Equal("-820 W"))
		Expect(named(got, "ac_power").Value).To(BeNumerically("~", 1500, 1e-3))
		Expect(named(got, "temperature").Text()).To(Equal("21 degC"))
		Expect(named(got, "enable").Text()).To(Equal("off"))
	})

	It("come with bytes swapped, in words, in texts and as discrete inputs", func() {
		got := read("swapped_west.yaml", func(v *registers.Values) {
			v[registers.ACPower], v[registers.Mode], v[registers.CheapSlot], v[registers.EnergyExported] = -2500, registers.ModeHold, 1, 12345678
		})
		Expect(named(got, "model").Text()).To(Equal("tester"))
		Expect(named(got, "ac_power").Text()).To(Equal("-2500 W"))
		Expect(named(got, "mode").Text()).To(Equal("hold"))
		Expect(named(got, "cheap_slot").Text()).To(Equal("on"))
		Expect(named(got, "energy_exported").Text()).To(Equal("12345678 Wh"))
	})

	It("stand beside one that the device refuses", func() {
		m, err := registers.ParseMap("m", []byte("map: m\nsignals:\n  soc: holding 5 uint16 x 1 %\n  ac_power: holding 9 int16 x 1 W\n"))
		Expect(err).NotTo(HaveOccurred())
		r, err := look(holding(5, 44), probe.Request{Map: m})
		Expect(err).NotTo(HaveOccurred())
		Expect(named(r.Signals, "soc").Text()).To(Equal("44 %"))
		Expect(named(r.Signals, "ac_power").Text()).To(Equal("(exception 02 (illegal data address))"))
	})

	It("are an error where the device has none of them", func() {
		m, err := registers.Builtin("south")
		Expect(err).NotTo(HaveOccurred())
		_, err = look(&memory{}, probe.Request{Map: m})
		Expect(err).To(MatchError(ContainSubstring("none of the map's 21 points could be read")))
	})
})

var _ = Describe("A report in JSON", func() {
	It("says null for what is not known, and reads back", func() {
		image := registers.NewImage(registers.SunSpecMeter(3), registers.Options{})
		r, err := look(&imaged{&memory{texts: []string{"kilter bench", "meter", "1"}}, image}, probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Identification).To(Equal([]string{"kilter bench", "meter", "1"}))
		text, err := json.Marshal(r)
		Expect(err).NotTo(HaveOccurred())
		Expect(string(text)).To(ContainSubstring(`{"name":"W","address":40088,"registers":1,"type":"int16","value":null,"unit":"W","raw":"0x8000"}`))
		Expect(json.Unmarshal(text, new(probe.Report))).To(Succeed())
	})
})
