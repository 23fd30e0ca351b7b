package control

import (
	"encoding/json"
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

func parsed(text string) *register {
	var p pointEntry
	Expect(json.Unmarshal([]byte(text), &p)).To(Succeed())
	r, err := p.register()
	Expect(err).NotTo(HaveOccurred())
	return &r
}

var _ = Describe("a register", func() {
	DescribeTable("is decoded in every type and order",
		func(text string, words []uint16, want float64) {
			r := parsed(text)
			got := r.decode(words)
			Expect(got.Known).To(BeTrue())
			Expect(got.Value).To(BeNumerically("~", want, 1e-9*math.Max(1, math.Abs(want))))
		},
		// Source of the four float orders: libmodbus tests/unit-test.h.in (check-values MB-70).
		Entry("float32 ABCD", `{"table":"input","type":"float32"}`, []uint16{0x47F1, 0x2000}, 123456.0),
		Entry("float32 CDAB", `{"table":"input","type":"float32","words":"low first"}`, []uint16{0x2000, 0x47F1}, 123456.0),
		Entry("float32 BADC", `{"table":"input","type":"float32","byte_order":"low byte first"}`, []uint16{0xF147, 0x0020}, 123456.0),
		Entry("float32 DCBA", `{"table":"input","type":"float32","word_order":"low word first","byte_order":"low byte first"}`, []uint16{0x0020, 0xF147}, 123456.0),
		// Two's complement (check-values MB-72).
		Entry("int16", `{"table":"input","type":"int16"}`, []uint16{0xF63C}, -2500.0),
		Entry("int32", `{"table":"input","type":"int32"}`, []uint16{0xFFFF, 0xF63C}, -2500.0),
		Entry("int32, low word first", `{"table":"input","type":"int32","words":"low first"}`, []uint16{0xF63C, 0xFFFF}, -2500.0),
		Entry("uint16", `{"table":"input","type":"uint16"}`, []uint16{0xFFFE}, 65534.0),
		Entry("uint32", `{"table":"input","type":"uint32"}`, []uint16{1, 2}, 65538.0),
		Entry("int64", `{"table":"input","type":"int64"}`, []uint16{0xFFFF, 0xFFFF, 0xFFFF, 0xFFFE}, -2.0),
		Entry("uint64, low word first", `{"table":"input","type":"uint64","words":"low first"}`, []uint16{5, 1, 0, 0}, 65541.0),
		Entry("float64 (IEEE 754: 1.5 is 3FF8...)", `{"table":"input","type":"float64"}`, []uint16{0x3FF8, 0, 0, 0}, 1.5),
		Entry("a bit", `{"table":"discrete","type":"bit"}`, []uint16{1}, 1.0),
		Entry("scale and sign", `{"table":"input","type":"int32","scale":0.1,"unit":"W","sign":-1}`, []uint16{0, 12340}, -1234.0),
		Entry("percent", `{"table":"input","type":"uint16","scale":0.1,"unit":"%"}`, []uint16{573}, 0.573),
		Entry("a fraction", `{"table":"input","type":"uint16","scale":0.001}`, []uint16{573}, 0.573),
		Entry("kW", `{"table":"input","type":"int16","scale":0.01,"unit":"kW"}`, []uint16{250}, 2500.0),
		Entry("an offset", `{"table":"input","type":"uint16","offset":-10000}`, []uint16{9000}, -1000.0),
		Entry("a word of an enumeration", `{"table":"input","type":"uint16","words":[{"raw":7,"word":"on","value":1}]}`, []uint16{7}, 1.0),
	)

	DescribeTable("is not known where the type's reserved value stands", func(text string, words ...uint16) {
		Expect(parsed(text).decode(words).Known).To(BeFalse())
	},
		// Source: SunSpec not-implemented values as the pysunspec2 tests give them (check-values SS-04 to SS-11).
		Entry("int16", `{"table":"input","type":"int16"}`, uint16(0x8000)),
		Entry("uint16", `{"table":"input","type":"uint16"}`, uint16(0xFFFF)),
		Entry("int32", `{"table":"input","type":"int32"}`, uint16(0x8000), uint16(0)),
		Entry("uint32", `{"table":"input","type":"uint32"}`, uint16(0xFFFF), uint16(0xFFFF)),
		Entry("int64", `{"table":"input","type":"int64"}`, uint16(0x8000), uint16(0), uint16(0), uint16(0)),
		Entry("float32", `{"table":"input","type":"float32"}`, uint16(0x7FC0), uint16(0)),
		Entry("a value that the map names", `{"table":"input","type":"uint16","unknown":"0x7FFF"}`, uint16(0x7FFF)),
		Entry("a word that is none", `{"table":"input","type":"uint16","words":[{"raw":7,"word":"on","value":1}]}`, uint16(8)),
		Entry("too few registers", `{"table":"input","type":"uint32"}`, uint16(1)),
	)

	It("is never written out of its range, nor with the value that means not known", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			kind := rapid.SampledFrom([]string{"int16", "uint16", "int32", "uint32", "int64", "uint64", "float32", "float64"}).Draw(t, "type")
			lo, hi := -3600.0, 3600.0
			r := register{kind: kind, table: "holding", sign: rapid.SampledFrom([]float64{1, -1}).Draw(t, "sign"),
				scale: rapid.SampledFrom([]float64{1, 0.1, 10}).Draw(t, "scale"), lo: &lo, hi: &hi,
				lowWord: rapid.Bool().Draw(t, "low word first"), lowByte: rapid.Bool().Draw(t, "low byte first")}
			value := rapid.Float64Range(-1e9, 1e9).Draw(t, "value")
			got := r.decode(r.encode(value))
			if !got.Known || got.Value < lo-1e-6 || got.Value > hi+1e-6 {
				t.Fatalf("%g is written as %v", value, got)
			}
		})
	})

	It("reads back what was written, to the resolution and never beyond", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			r := register{kind: rapid.SampledFrom([]string{"int16", "int32", "int64"}).Draw(t, "type"), table: "holding", sign: 1,
				scale:   rapid.SampledFrom([]float64{1, 0.5, 10}).Draw(t, "scale"),
				lowWord: rapid.Bool().Draw(t, "low word first"), lowByte: rapid.Bool().Draw(t, "low byte first")}
			value := rapid.Float64Range(-5000, 5000).Draw(t, "value")
			got := r.decode(r.encode(value)).Value
			if math.Abs(got-value) >= r.scale || math.Abs(got) > math.Abs(value)+1e-4 {
				t.Fatalf("%g reads back as %g", value, got)
			}
		})
	})
})

var _ = Describe("the registers in a bench file", func() {
	It("may be an object by signal", func() {
		var s registerSet
		Expect(json.Unmarshal([]byte(`{"soc":{"table":"input","address":3008,"type":"uint16"},"ac_power/a":{"table":"input","address":1,"type":"int16"}}`), &s)).To(Succeed())
		d := deviceEntry{Registers: s}
		Expect(d.register("soc").address).To(Equal(uint16(3008)))
		Expect(d.register("ac_power").address).To(Equal(uint16(1)))
		Expect(d.register("mode")).To(BeNil())
	})

	It("may be the description of a map", func() {
		var s registerSet
		Expect(json.Unmarshal([]byte(`{"map":"south","word_order":"low word first","byte_order":"high byte first","points":[
			{"name":"charge_limit","signal":"charge_limit","table":"holding","address":2100,"registers":2,"type":"int32","scale":0.1,
			 "unit":"W","sign":1,"access":"read and write","min":-3600,"max":3600,"lasts_s":60,"unknown":"0x80000000",
			 "needs":{"table":"holding","address":2099,"mask":1,"raw":1}},
			{"name":"ac_power/in","signal":"ac_power","table":"input","address":1,"type":"uint16","scale":1,"sign":1,"one_way":true},
			{"name":"ac_power/out","signal":"ac_power","table":"input","address":2,"type":"uint16","scale":1,"sign":-1,"one_way":true}]}`), &s)).To(Succeed())
		d := deviceEntry{Registers: s}
		r := d.register("charge_limit")
		Expect(r.lowWord).To(BeTrue())
		Expect(r.writable).To(BeTrue())
		Expect(*r.lo).To(Equal(-3600.0))
		Expect(r.lastsS).To(Equal(60.0))
		Expect(r.needs.Address).To(Equal(uint16(2099)))
		Expect(d.parts("ac_power")).To(HaveLen(2))
	})
})
