package registers_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/registers"
)

var _ = Describe("Addresses in a declared map", func() {
	parse := func(head, lines string) *registers.Map {
		GinkgoHelper()
		m, err := registers.ParseMap("m.yaml", []byte("map: m\n"+head+"\nsignals:\n"+lines))
		Expect(err).NotTo(HaveOccurred())
		return m
	}

	DescribeTable("mean one place on the wire in each notation", func(notation, soc, power, connect, cheap string) {
		// The tables are numbered 0xxxx coils, 1xxxx discrete inputs, 3xxxx input registers, 4xxxx holding registers, from 1; on
		// the wire each counts from 0: Modbus Application Protocol V1.1b3, clause 4.4 with the classic prefixes (from memory).
		m := parse("addresses: "+notation, "  soc: input "+soc+" uint16 x 1 %\n  setpoint: holding "+power+" int16 x 1 W, writable\n"+
			"  connect: coil "+connect+", writable\n  cheap_slot: discrete "+cheap+"\n")
		at := map[string]uint16{}
		for _, p := range m.Points {
			at[p.Name] = p.Address
		}
		Expect(at).To(Equal(map[string]uint16{"soc": 107, "setpoint": 299, "connect": 0, "cheap_slot": 19}))
	},
		Entry(nil, "from 0", "107", "0x12B", "0", "19"),
		Entry(nil, "from 1", "108", "300", "1", "20"),
		Entry(nil, "4xxxx numbers", "30108", "40300", "00001", "10020"))

	It("of six digits reach beyond the 9999th register", func() {
		m := parse("addresses: 4xxxx numbers", "  setpoint: holding 465536 int16 x 1 W, writable\n")
		Expect(m.Points[0].Address).To(Equal(uint16(65535)))
	})

	DescribeTable("are refused where the notation has no such number", func(notation, line string) {
		_, err := registers.ParseMap("m.yaml", []byte("map: m\naddresses: "+notation+"\nsignals:\n  "+line+"\n"))
		Expect(err).To(MatchError(HavePrefix("m.yaml:4:")))
	},
		Entry("0 counted from 1", "from 1", "soc: input 0 uint16 x 1 %"),
		Entry("beyond the last", "from 1", "soc: input 65537 uint16 x 1 %"),
		Entry("running past the last", "from 0", "ac_power: input 65535 int32 x 1 W"),
		Entry("another table's prefix", "4xxxx numbers", "soc: input 40001 uint16 x 1 %"),
		Entry("the zeroth of a table", "4xxxx numbers", "soc: input 30000 uint16 x 1 %"))

	gaps := func(kind string) *registers.Image {
		GinkgoHelper()
		im := registers.NewImage(parse("gaps: "+kind, "  soc: input 10 uint16 x 1 %\n  ac_power: input 14 int32 x 1 W\n"+
			"  reserve: holding 3 uint16 x 1 %, writable\n  setpoint: holding 6 int16 x 1 W, writable\n"), registers.Options{})
		im.Refresh(snapshot(registers.SOC, 0.5, registers.ACPower, 7))
		return im
	}

	It("between signals are refused", func() {
		im := gaps("refuse")
		Expect(im.Read(registers.Input, 10, make([]uint16, 2))).To(MatchError(registers.ErrIllegalAddress))
		Expect(im.Read(registers.Input, 12, make([]uint16, 1))).To(MatchError(registers.ErrIllegalAddress))
		Expect(im.Read(registers.Input, 10, make([]uint16, 6))).To(MatchError(registers.ErrIllegalAddress))
		Expect(input(im, 10, 1)).To(Equal([]uint16{50}))
		Expect(input(im, 14, 2)).To(Equal([]uint16{0, 7}))
	})

	It("between signals read as 0 where the map says so, and only between its first and its last", func() {
		im := gaps("read as 0")
		Expect(input(im, 10, 6)).To(Equal([]uint16{50, 0, 0, 0, 0, 7}))
		Expect(input(im, 12, 1)).To(Equal([]uint16{0}))
		Expect(im.Read(registers.Input, 9, make([]uint16, 1))).To(MatchError(registers.ErrIllegalAddress))
		Expect(im.Read(registers.Input, 16, make([]uint16, 1))).To(MatchError(registers.ErrIllegalAddress))
		Expect(im.Read(registers.Discrete, 10, make([]uint16, 1))).To(MatchError(registers.ErrIllegalAddress), "a table without signals")
	})

	It("between signals take no write in either way", func() {
		for _, kind := range []string{"refuse", "read as 0"} {
			im := gaps(kind)
			Expect(im.Write(4, []uint16{0}, nil)).To(MatchError(registers.ErrIllegalAddress))
			Expect(im.Write(3, []uint16{20, 0, 0, 5}, nil)).To(MatchError(registers.ErrIllegalAddress))
			Expect(im.Write(3, []uint16{20}, nil)).To(Succeed())
		}
	})
})
