package probe_test

import (
	"context"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
	"kilter/emulator/probe"
	"kilter/emulator/registers"
	"kilter/emulator/registers/sunspec"
)

// common is model 1 with a length of its own, blank but for its header.
func common(length uint16) []uint16 {
	words := make([]uint16, 2+length)
	words[0], words[1] = 1, length
	return words
}

// chain joins the marker and models.
func chain(models ...[]uint16) []uint16 {
	words := []uint16{0x5375, 0x6E53}
	for _, m := range models {
		words = append(words, m...)
	}
	return words
}

var end = []uint16{0xFFFF, 0}

var _ = Describe("A SunSpec chain", func() {
	DescribeTable("is found at each of the usual places", func(base int, from uint16) {
		// SS-02: 40000, 0, 50000; pysunspec2 tests/test_modbus_client.py.
		r, err := look(&imaged{&memory{}, registers.NewImage(registers.SunSpecMeter(3), registers.Options{Base: base})}, probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Chain.Base).To(Equal(from))
		Expect(r.Chain.Models).To(HaveLen(2))
		Expect(r.Chain.Remarks).To(BeEmpty())
	}, Entry(nil, 0, uint16(40000)), Entry(nil, registers.AtZero, uint16(0)), Entry(nil, 50000, uint16(50000)))

	It("is looked for in the library's order", func() {
		// SS-02: base_addr_list == [40000, 0, 50000].
		address, seen := serve(&memory{})
		_, err := probe.Look(context.Background(), dial(address), probe.Request{})
		Expect(err).To(HaveOccurred())
		Expect(seen.addresses[:3]).To(Equal([]uint16{40000, 0, 50000}))
	})

	It("is walked by the lengths that the device states", func() {
		// SS-13: model 1 of 65 registers is met in the field; SunSpec discovery wiki page.
		r, err := look(holding(40000, chain(common(65), []uint16{713, 7, 100, 50, 500, 1000, 0, 0, 0xFFFF}, end)...), probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Chain.Models).To(HaveLen(2))
		Expect(r.Chain.Models[0].Remarks).To(ConsistOf("1 register fewer than the standard's model has"))
		Expect(r.Chain.Models[1].Address).To(Equal(uint16(40069)))
		Expect(named(r.Chain.Models[1].Points, "SoC").Text()).To(Equal("50.0 %"))
	})

	It("shows a model that nobody knows as bare registers", func() {
		r, err := look(holding(40000, chain(common(66), []uint16{64001, 2, 7, 8}, end)...), probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Chain.Models[1].Registers.Values).To(Equal([]uint16{64001, 2, 7, 8}))
		Expect(r.Chain.Models[1].Points).To(BeEmpty())
	})

	It("remarks that a model is longer than the standard's", func() {
		r, err := look(holding(40000, chain(common(70), end)...), probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Chain.Models[0].Remarks).To(ConsistOf("4 registers more than the standard's model has"))
	})

	DescribeTable("ends, however it is broken", func(device modbus.Device, models int, remark string) {
		address, _ := serve(device)
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		r, err := probe.Look(ctx, dial(address), probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Chain.Models).To(HaveLen(models))
		Expect(r.Chain.Remarks).To(ConsistOf(ContainSubstring(remark)))
	},
		Entry("without an end model", holding(40000, chain(common(66))...), 1, "breaks off without an end model: the next model's header at 40070: exception 02 (illegal data address)"),
		Entry("with a model cut short", holding(40000, chain(common(66), []uint16{103, 50, 1})...), 1, "model 103 at 40070, 52 registers: exception 02"),
		Entry("with a length past the last register", holding(40000, chain(common(66), []uint16{103, 0xFFFE})...), 1, "runs past register 65535"),
		Entry("with an end model that has a length", holding(40000, chain(common(66), []uint16{0xFFFF, 3})...), 1, "has length 3 in place of 0"),
		Entry("with zeros behind", holding(40000, chain(common(66), []uint16{0, 0})...), 1, "model id 0"),
		Entry("of a device that says the same everywhere", &memory{
			cells:      holding(40000, 0x5375, 0x6E53).cells,
			everywhere: func(address uint16) uint16 { return 101 - 101*(address&1) }, // models of length 0 for ever
		}, 100, "100 models and no end model"),
		Entry("up to the last address", &memory{
			cells: holding(50000, 0x5375, 0x6E53).cells,
			everywhere: func(address uint16) uint16 { // models of 998 registers each
				switch {
				case address < 50002:
					return 0
				case (address-50002)%1000 == 0:
					return 64000
				}
				return 998
			},
		}, 15, "runs past register 65535"),
	)

	It("is an error where its first model cannot be read", func() {
		_, err := look(holding(40000, 0x5375, 0x6E53), probe.Request{})
		Expect(err).To(MatchError(ContainSubstring("exception 02 (illegal data address)")))
	})

	It("believes a count only as far as there are registers", func() {
		words := make([]uint16, 2+18+25)
		words[0], words[1], words[4] = 714, 18+25, 60000
		r, err := look(holding(40000, chain(common(66), words, end)...), probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		m := r.Chain.Models[1]
		Expect(m.Points).To(HaveLen(13 + 11))
		Expect(named(m.Points, "Prt[1].PrtTyp").Text()).To(Equal("PV"))
		Expect(m.Remarks).To(ConsistOf("NPrt states 60000 of Prt, and there are registers for 1"))
	})

	It("lets go when time is up, and says what was read until then", func() {
		image := registers.NewImage(registers.SunSpecBattery(3), registers.Options{})
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		address, _ := serve(&stopper{&imaged{&memory{}, image}, 40180, cancel})
		r, err := probe.Look(ctx, dial(address), probe.Request{})
		Expect(err).To(MatchError(HaveSuffix("walking the SunSpec chain: interrupted")))
		Expect(r.Chain.Models).NotTo(BeEmpty())
		Expect(len(r.Chain.Models)).To(BeNumerically("<", 9))
	})
})

// stopper cancels the look at itself when it is read beyond an address.
type stopper struct {
	*imaged
	beyond uint16
	stop   func()
}

func (s *stopper) ReadRegisters(p modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	if address > s.beyond {
		s.stop()
	}
	return s.imaged.ReadRegisters(p, table, address, dst)
}

var _ = Describe("A decoded point", func() {
	battery := func(v *registers.Values, opt registers.Options) []probe.Model {
		GinkgoHelper()
		image := registers.NewImage(registers.SunSpecBattery(3), opt)
		image.Refresh(v)
		r, err := look(&imaged{&memory{}, image}, probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		return r.Chain.Models
	}
	point := func(models []probe.Model, id uint16, name string) probe.Point {
		GinkgoHelper()
		for _, m := range models {
			if m.ID == id {
				return named(m.Points, name)
			}
		}
		Fail("no such model")
		return probe.Point{}
	}

	It("is scaled, has its unit, and keeps its raw registers", func() {
		// SS-61 and SS-60: 57.3 %, 49.98 Hz and -2345.6 W at SF -1, recomputed.
		v := registers.Unknown()
		v[registers.Frequency], v[registers.SOC], v[registers.ACPower] = 49.98, 0.573, 2345.6
		got := battery(&v, registers.Options{Ratings: registers.Ratings{PowerW: 1600}})
		hz := point(got, 103, "Hz")
		Expect([]any{hz.Value, hz.Text(), hz.Raw, hz.Address}).To(Equal([]any{49.98, "49.98 Hz", "0x1386", uint16(40086)}))
		Expect(point(got, 713, "SoC").Text()).To(Equal("57.3 %"))
		w := point(got, 103, "W")
		Expect([]any{w.Value, w.Text(), w.Raw}).To(Equal([]any{-2345.6, "-2345.6 W", "0xA460"}))
	})

	It("is a word where the standard has one", func() {
		v := registers.Unknown()
		v[registers.ChargeState], v[registers.BatteryPower] = registers.ChargeCharging, 100
		got := battery(&v, registers.Options{})
		Expect(point(got, 124, "ChaSt").Words).To(ConsistOf("CHARGING"))
		Expect(point(got, 122, "StorConn").Text()).To(Equal("CONNECTED + AVAILABLE + OPERATING"))
		Expect(point(got, 122, "ECPConn").Text()).To(Equal("CONNECTED"))
		Expect(point(got, 124, "StorCtl_Mod").Text()).To(Equal("none"))
		Expect(point(got, 1, "Mn").Text()).To(Equal("kilter bench"))
	})

	It("has no value where it is not implemented", func() {
		v := registers.Unknown()
		got := battery(&v, registers.Options{})
		for _, name := range []string{"W", "A", "St", "EvtVnd1", "TmpCab"} {
			Expect(point(got, 103, name).Value).To(BeNil(), name)
			Expect(point(got, 103, name).Text()).To(Equal("not known"))
		}
	})

	DescribeTable("tells the reserved value of its type from a number", func(t sunspec.Type, size uint16) {
		// SS-04 to SS-11: pysunspec2 tests/test_mb.py; the tables' own test checks Unimplemented against them.
		for _, id := range sunspec.IDs() {
			m := sunspec.Find(id)
			for _, p := range m.Points {
				if p.Type != t || p.Name == "ID" || p.Name == "L" {
					continue
				}
				words := make([]uint16, m.Registers())
				copy(words[p.Offset:], sunspec.Unimplemented(t, size))
				Expect(named(probe.Decode(id, words).Points, p.Name).Value).To(BeNil(), "%d.%s", id, p.Name)
				return
			}
		}
		Fail("no model has a point of type " + string(t))
	},
		Entry(nil, sunspec.Int16, uint16(1)), Entry(nil, sunspec.Uint16, uint16(1)), Entry(nil, sunspec.Scale, uint16(1)),
		Entry(nil, sunspec.Enum16, uint16(1)), Entry(nil, sunspec.Bitfield16, uint16(1)), Entry(nil, sunspec.Uint32, uint16(2)),
		Entry(nil, sunspec.Int32, uint16(2)), Entry(nil, sunspec.Bitfield32, uint16(2)), Entry(nil, sunspec.Uint64, uint16(4)),
		Entry(nil, sunspec.Float32, uint16(2)), Entry(nil, sunspec.String, uint16(8)))

	It("is not scaled by a scale factor that is not implemented or out of bounds", func() {
		// The power of ten is from -10 to 10 (SunSpec Device Information Model Specification, type sunssf).
		words := make([]uint16, 9)
		words[2], words[7] = 5, 0x8000
		p := named(probe.Decode(713, words).Points, "WHRtg")
		Expect([]any{p.Value, p.Text()}).To(Equal([]any{5.0, "5 Wh (not scaled, WH_SF is not implemented)"}))
		words[7] = 11
		Expect(named(probe.Decode(713, words).Points, "WHRtg").Remark).To(Equal("not scaled, WH_SF is 11"))
		words[7] = 10
		Expect(named(probe.Decode(713, words).Points, "WHRtg").Text()).To(Equal("50000000000 Wh"))
	})

	It("says where the standard has no word for a state", func() {
		words := make([]uint16, 9)
		words[6] = 55
		Expect(named(probe.Decode(713, words).Points, "Sta").Text()).To(Equal("55, which the standard has no word for"))
	})

	It("takes a count of zero without a scale factor for one that is not implemented", func() {
		m := sunspec.Find(203)
		words := make([]uint16, m.Registers())
		for _, p := range m.Points {
			if p.Type == sunspec.Scale {
				words[p.Offset] = 0x8000
			}
		}
		Expect(named(probe.Decode(203, words).Points, "TotVAhExp").Value).To(BeNil())
	})

	It("cannot smuggle control characters into a terminal", func() {
		words := common(66)
		words[2], words[3] = 0x1B5B, 0x324A // ESC [ 2 J
		Expect(named(probe.Decode(1, words).Points, "Mn").Text()).To(Equal("?[2J"))
	})
})
