package probe_test

import (
	"bytes"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
	"kilter/emulator/probe"
)

var _ = Describe("A dump", func() {
	rangeOf := func(text string) probe.Request {
		GinkgoHelper()
		r, err := probe.ParseRange(text)
		Expect(err).NotTo(HaveOccurred())
		return probe.Request{Range: &r}
	}

	It("shows registers around gaps, and says where the gaps are", func() {
		d := holding(10, 0x4142, 2, 3)
		d.cells[modbus.HoldingRegisters][300] = 9
		r, err := look(d, rangeOf("holding:8-0x130"))
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Memory.Values[2:5]).To(Equal([]uint16{0x4142, 2, 3}))
		Expect(r.Memory.Values[292]).To(Equal(uint16(9)))
		why := "exception 02 (illegal data address)"
		Expect(r.Memory.Refused).To(Equal([]probe.Refusal{{From: 8, To: 9, Why: why}, {From: 13, To: 299, Why: why}, {From: 301, To: 304, Why: why}}))
		var text bytes.Buffer
		Expect(r.WriteTable(&text)).To(Succeed())
		Expect(text.String()).To(ContainSubstring("holding     8  ---- ---- 4142 0002 0003 ---- ---- ----      AB....\n"))
		Expect(text.String()).To(ContainSubstring("note: 13 to 299: " + why))
	})

	It("shows bits", func() {
		d := &memory{cells: map[modbus.Table]map[uint16]uint16{modbus.Coils: {3: 1, 4: 0, 5: 1}}}
		r, err := look(d, rangeOf("coil:3-5"))
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Memory.Values).To(Equal([]uint16{1, 0, 1}))
	})

	It("reaches from the first register to the last", func() {
		r, err := look(&memory{everywhere: func(a uint16) uint16 { return a }}, rangeOf("input:0-65535"))
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Memory.Values).To(HaveLen(65536))
		for a, v := range r.Memory.Values {
			if int(v) != a {
				Fail("wrong register")
			}
		}
	})

	It("is an error where there is nothing", func() {
		_, err := look(holding(0, 1), rangeOf("input:0-9"))
		Expect(err).To(MatchError(ContainSubstring("has no input registers from 0 to 9")))
	})

	DescribeTable("refuses a range that is none", func(text, want string) {
		_, err := probe.ParseRange(text)
		Expect(err).To(MatchError(ContainSubstring(want)))
	},
		Entry(nil, "", "no table"), Entry(nil, "holding", "must be TABLE:FROM-TO"), Entry(nil, "coils:1-2", `no table "coils"`),
		Entry(nil, "holding:9-1", "ends before it begins"), Entry(nil, "holding:0-65536", "must be"), Entry(nil, "holding:-1-4", "must be"))
})
