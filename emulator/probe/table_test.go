package probe_test

import (
	"bytes"
	"regexp"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/probe"
)

var _ = Describe("The table", func() {
	It("shows model, point, value with unit, raw registers and address, and what is odd", func() {
		d := holding(40000, chain(common(65), []uint16{713, 7, 1000, 0xFFFF, 573, 1000, 4, 1, 0xFFFF}, []uint16{64001, 2, 0x4F4B, 0}, []uint16{0xFFFF, 1})...)
		d.texts = []string{"a maker", "a model", "2.1"}
		r, err := look(d, probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		var text bytes.Buffer
		Expect(r.WriteTable(&text)).To(Succeed())
		Expect(regexp.MustCompile(`127\.0\.0\.1:\d+`).ReplaceAllString(text.String(), "HOST:PORT")).To(Equal(
			`HOST:PORT, unit 1: identifies itself as a maker, a model, 2.1
SunSpec chain at 40000, 3 models

model 1 common, at 40002, length 65
  DA  0  0x0000  40068
  not implemented: Mn Md Opt Vr SN
  note: 1 register fewer than the standard's model has

model 713 DERStorageCapacity, at 40069, length 7
  WHRtg  10000 Wh                               0x03E8  40071
  SoC    57.3 %                                 0x023D  40073
  SoH    100.0 %                                0x03E8  40074
  Sta    4, which the standard has no word for  0x0004  40075
  not implemented: WHAvail

model 64001 unknown, at 40078, length 2
  holding 40078  FA01 0002 4F4B 0000                      ....OK..
  note: not among the models that this program knows; its bare registers are shown
note: the end model at 40082 has length 1 in place of 0
`))
	})
})
