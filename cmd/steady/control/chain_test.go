package control

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// memory is a bus without a wire.
type memory struct {
	holding map[uint16]uint16
}

func (m *memory) Read(table string, address, count uint16) ([]uint16, error) {
	out := make([]uint16, count)
	for i := range out {
		w, ok := m.holding[address+uint16(i)]
		if !ok || table != "holding" {
			return nil, &refusal{code: 2, text: "illegal data address"}
		}
		out[i] = w
	}
	return out, nil
}

func (m *memory) Write(_ string, address uint16, values []uint16) error {
	for i, v := range values {
		m.holding[address+uint16(i)] = v
	}
	return nil
}

var _ = Describe("a chain of SunSpec models", func() {
	It("is followed by its lengths (addresses: check-values SS-28, recomputed from the public model definitions)", func() {
		m := &memory{holding: map[uint16]uint16{}}
		chainOf(m.holding, 40000, [2]uint16{1, 66}, [2]uint16{103, 50}, [2]uint16{120, 26}, [2]uint16{121, 30},
			[2]uint16{122, 44}, [2]uint16{123, 24}, [2]uint16{124, 24})
		models, err := walk(m, 40000)
		Expect(err).NotTo(HaveOccurred())
		Expect(models[103].address).To(Equal(uint16(40070)))
		Expect(models[120].address).To(Equal(uint16(40122)))
		Expect(models[124]).To(Equal(model{address: 40254, length: 24}))
	})

	It("follows the short common model that is met in the field (check-values SS-13)", func() {
		m := &memory{holding: map[uint16]uint16{}}
		chainOf(m.holding, 0, [2]uint16{1, 65}, [2]uint16{203, 105})
		models, err := walk(m, 0)
		Expect(err).NotTo(HaveOccurred())
		Expect(models[203].address).To(Equal(uint16(69)))
	})

	It("says what it found where the marker is missing", func() {
		m := &memory{holding: map[uint16]uint16{40000: 1, 40001: 2}}
		_, err := walk(m, 40000)
		Expect(err).To(MatchError(ContainSubstring("registers 40000 and 40001 read 0x0001 0x0002: must be the marker 0x5375 0x6e53")))
	})

	It("gives up on a chain without end", func() {
		m := &memory{holding: map[uint16]uint16{0: 0x5375, 1: 0x6E53}}
		for i := uint16(2); i < 400; i++ {
			m.holding[i] = 0 // models of no length
		}
		_, err := walk(m, 0)
		Expect(err).To(MatchError(ContainSubstring("no end")))
		m.holding[2], m.holding[3] = 7, 0xFFFE
		_, err = walk(m, 0)
		Expect(err).To(MatchError(ContainSubstring("runs over the last register")))
	})

	DescribeTable("decodes points with their scale (check-values SS-60 to SS-64, rule: raw x 10^SF)",
		func(raw, scale uint16, signed bool, want float64) {
			k := block{words: []uint16{raw, scale}}
			got := k.unsigned(0, 1)
			if signed {
				got = k.signed(0, 1)
			}
			Expect(got).To(Equal(Known(want)))
		},
		Entry("SS-60", uint16(0xA460), uint16(0xFFFF), true, -2345.6),
		Entry("SS-61 percent", uint16(0x023D), uint16(0xFFFF), false, 57.3),
		Entry("SS-61 frequency", uint16(0x1386), uint16(0xFFFE), false, 49.98),
		Entry("SS-62", uint16(0xEC78), uint16(0xFFFE), true, -50.0),
		Entry("SS-64", uint16(0x04B0), uint16(1), false, 12000.0),
	)

	It("does not take a value for a number that is not implemented, nor without its scale", func() {
		Expect(block{words: []uint16{0x8000, 0}}.signed(0, 1).Known).To(BeFalse())
		Expect(block{words: []uint16{0xFFFF, 0}}.unsigned(0, 1).Known).To(BeFalse())
		Expect(block{words: []uint16{5, 0x8000}}.signed(0, 1).Known).To(BeFalse())
		Expect(block{words: []uint16{5}}.signed(0, 1).Known).To(BeFalse())
	})
})

var _ = Describe("a SunSpec inverter", func() {
	var m *memory
	var s *sunspecInverter
	unit := Unit{ChargeMaxW: 5000, DischargeMaxW: 4000}
	const at = 40254

	BeforeEach(func() {
		m = &memory{holding: map[uint16]uint16{}}
		chainOf(m.holding, 40000, [2]uint16{1, 66}, [2]uint16{103, 50}, [2]uint16{120, 26}, [2]uint16{121, 30},
			[2]uint16{122, 44}, [2]uint16{123, 24}, [2]uint16{124, 24})
		h := m.holding
		h[40122+nameplateMaxDischarge], h[40122+nameplateMaxDischargeSF] = 4000, 0
		h[at+storageWChaMax], h[at+storageWChaMaxSF] = 5000, 0
		h[at+storageChaState], h[at+storageStateSF] = 573, 0xFFFF
		h[at+storageRateSF] = 0xFFFE
		h[at+storageControl], h[at+storageWindow], h[at+storageRevert], h[at+storageGridAllow] = 0, 0, 0, 1
		h[40070+inverterW], h[40070+inverterWSF] = 1200, 0
		s = &sunspecInverter{base: 40000, sign: -1}
		Expect(s.connect(m)).To(Succeed())
	})

	It("reads power, state of charge and ratings in the inside sign", func() {
		u := Unit{ChargeMaxW: 6000, DischargeMaxW: 6000}
		Expect(s.poll(m, &u)).To(Succeed())
		Expect(u.Power).To(Equal(Known(-1200)))
		Expect(u.SOC).To(Equal(Known(0.573)))
		Expect([]float64{u.ChargeMaxW, u.DischargeMaxW}).To(Equal([]float64{5000, 4000}))
		s.sign = 1
		Expect(s.poll(m, &u)).To(Succeed())
		Expect(u.Power).To(Equal(Known(1200)))
	})

	DescribeTable("writes a band as rates in percent of full power",
		func(b Band, out, in int16, control uint16) {
			Expect(s.limit(m, b, unit)).To(Succeed())
			Expect(int16(m.holding[at+storageOutRate])).To(Equal(out))
			Expect(int16(m.holding[at+storageInRate])).To(Equal(in))
			Expect(m.holding[at+storageControl]).To(Equal(control))
			Expect(s.poll(m, &Unit{})).To(Succeed())
			Expect(s.kept(b, unit)).To(BeTrue())
			m.holding[at+storageControl] ^= 1
			Expect(s.poll(m, &Unit{})).To(Succeed())
			Expect(s.kept(b, unit)).To(BeFalse())
		},
		Entry("charging only", Band{0, 5000}, int16(0), int16(10000), uint16(3)),
		Entry("discharging only, in part", Band{-1000, 0}, int16(2500), int16(0), uint16(3)),
		Entry("held", Band{0, 0}, int16(0), int16(0), uint16(3)),
		Entry("forced to charge: the discharge rate is negative", Band{2000, 2000}, int16(-5000), int16(4000), uint16(3)),
	)

	It("is released by its control bits alone", func() {
		Expect(s.limit(m, Band{0, 0}, unit)).To(Succeed())
		Expect(s.poll(m, &Unit{})).To(Succeed())
		Expect(s.limit(m, Band{-4000, 5000}, unit)).To(Succeed())
		Expect(m.holding[at+storageControl]).To(BeZero())
	})

	It("never writes the value that means not implemented", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			m.holding[at+storageRateSF] = rapid.SampledFrom([]uint16{0, 0xFFFF, 0xFFFE, 0xFFFD, 0xFFFC}).Draw(t, "scale")
			if err := s.poll(m, &Unit{}); err != nil {
				t.Fatal(err)
			}
			b := Band{MinW: rapid.Float64Range(-9000, 9000).Draw(t, "from")}
			b.MaxW = rapid.Float64Range(b.MinW, 9000).Draw(t, "to")
			out, in, err := s.rates(b)
			if err != nil || out == 0x8000 || in == 0x8000 {
				t.Fatalf("%v is written as %#x, %#x, %v", b, out, in, err)
			}
		})
	})
})

var _ = Describe("a declared inverter", func() {
	It("sets the bits that its limits need, and follows a setpoint where limits cannot force", func() {
		yes, hi := 0.0, 3600.0
		limit := func(at uint16) register {
			return register{table: "holding", address: at, kind: "uint16", scale: 1, sign: 1, writable: true, lo: &yes, hi: &hi,
				needs: &need{Table: "holding", Address: 1, Mask: 6, Raw: 4}}
		}
		c, d := limit(10), limit(12)
		c.signal, d.signal = "charge_limit", "discharge_limit"
		v := newDeclaredInverter(deviceEntry{Registers: registerSet{c, d,
			{signal: "ac_power", table: "holding", address: 2, kind: "int16", scale: 1, sign: 1},
			{signal: "mode", table: "holding", address: 3, kind: "uint16", scale: 1, sign: 1, writable: true,
				words: []word{{Raw: 9, Word: "self-consumption"}, {Raw: 8, Word: "setpoint"}}},
			{signal: "setpoint", table: "holding", address: 4, kind: "int16", scale: 1, sign: -1, writable: true},
		}}, 0)
		m := &memory{holding: map[uint16]uint16{1: 3, 2: 0, 3: 9, 4: 0}}
		Expect(v.connect(m)).To(Succeed())
		var u Unit
		Expect(v.poll(m, &u)).To(Succeed())
		Expect(u.CanCharge && u.CanDischarge).To(BeTrue())
		Expect(v.limit(m, Band{1500, 1500}, u)).To(Succeed())
		Expect(m.holding[1]).To(Equal(uint16(5))) // bit 0 is left alone, bits 1 and 2 read 4
		Expect(int16(m.holding[4])).To(Equal(int16(-1500)))
		Expect(m.holding[3]).To(Equal(uint16(8)))
		Expect(m.holding[10]).To(Equal(uint16(1500)))
		Expect(v.limit(m, Band{-3600, 0}, u)).To(Succeed())
		Expect(m.holding[3]).To(Equal(uint16(9)))
		Expect([]uint16{m.holding[10], m.holding[12]}).To(Equal([]uint16{0, 3600}))
	})
})
