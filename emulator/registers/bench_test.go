package registers_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/registers"
)

func busy() *registers.Values {
	v := registers.Unknown()
	for s := range registers.NumSignals {
		v[s] = float64(s)
	}
	return &v
}

var _ = It("A refresh and a read allocate nothing", func() {
	im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
	v, dst := busy(), make([]uint16, 125)
	Expect(testing.AllocsPerRun(100, func() {
		im.Refresh(v)
		_ = im.Read(registers.Holding, 40070, dst)
	})).To(BeZero())
})

var _ = It("A write allocates nothing", func() {
	im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
	words, sum := []uint16{1000, 2000}, 0.0
	emit := func(c registers.Command) { sum += c.Value }
	Expect(testing.AllocsPerRun(100, func() { _ = im.Write(40266, words, emit) })).To(BeZero())
})

func BenchmarkRefresh(b *testing.B) {
	im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
	v := busy()
	b.ReportAllocs()
	for b.Loop() {
		im.Refresh(v)
	}
}

// BenchmarkInverterChain refreshes and reads the whole chain, 282 registers in three requests.
func BenchmarkInverterChain(b *testing.B) {
	im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
	v, dst := busy(), make([]uint16, 125)
	b.ReportAllocs()
	for b.Loop() {
		im.Refresh(v)
		_ = im.Read(registers.Holding, 40000, dst)
		_ = im.Read(registers.Holding, 40125, dst)
		_ = im.Read(registers.Holding, 40250, dst[:32])
	}
}

// BenchmarkInverterModel refreshes and reads model 103, the usual poll.
func BenchmarkInverterModel(b *testing.B) {
	im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
	v, dst := busy(), make([]uint16, 52)
	b.ReportAllocs()
	for b.Loop() {
		im.Refresh(v)
		_ = im.Read(registers.Holding, 40070, dst)
	}
}

func BenchmarkDeclaredRead(b *testing.B) {
	m, _ := registers.Builtin("south")
	im := registers.NewImage(m, registers.Options{})
	v, dst := busy(), make([]uint16, 16)
	b.ReportAllocs()
	for b.Loop() {
		im.Refresh(v)
		_ = im.Read(registers.Input, 0x100, dst)
	}
}

func BenchmarkWrite(b *testing.B) {
	im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
	words, sum := []uint16{1000, 2000}, 0.0
	emit := func(c registers.Command) { sum += c.Value }
	b.ReportAllocs()
	for b.Loop() {
		_ = im.Write(40266, words, emit)
	}
}

func BenchmarkNewImage(b *testing.B) {
	m := registers.SunSpecInverter(3)
	b.ReportAllocs()
	for b.Loop() {
		registers.NewImage(m, registers.Options{Ratings: ratings})
	}
}
