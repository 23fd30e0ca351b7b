package registers_test

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/emulator/registers"
)

var _ = Describe("A client that knows the map", func() {
	// tell reads a signal as the client does, from the registers alone.
	tell := func(im *registers.Image, s registers.Signal) (sum float64, known bool) {
		GinkgoHelper()
		points := im.Shown(s)
		Expect(points).NotTo(BeEmpty())
		known = true
		for _, p := range points {
			words := make([]uint16, p.Registers)
			Expect(im.Read(p.Table, p.Address, words)).To(Succeed())
			v, is := im.Decode(p, words)
			sum, known = sum+v, known && is
		}
		return sum, known
	}
	told := func(im *registers.Image, s registers.Signal) float64 {
		GinkgoHelper()
		v, known := tell(im, s)
		Expect(known).To(BeTrue())
		return v
	}
	battery := func() *registers.Image {
		return registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
	}

	It("learns a signal in inside units and sign, whatever the registers count", func() {
		im := registers.NewImage(load("awkward_north.yaml"), registers.Options{})
		im.Refresh(snapshot(registers.ACPower, -2345.6, registers.SOC, 0.57))
		Expect(told(im, registers.ACPower)).To(BeNumerically("~", -2345.6, 1e-9))
		Expect(told(im, registers.SOC)).To(BeNumerically("~", 0.57, 1e-9))
		sun := battery()
		sun.Refresh(snapshot(registers.ACPower, 1234, registers.SOC, 0.5))
		Expect(told(sun, registers.ACPower)).To(Equal(1234.0))
	})

	It("adds up a quantity that is split by direction", func() {
		im := imageOf("  ac_power/charging: input 0 uint16 x 1 W\n  ac_power/discharging: input 1 uint16 x 1 W\n")
		Expect(im.Shown(registers.ACPower)).To(HaveLen(2))
		for _, w := range []float64{700, -300} {
			im.Refresh(snapshot(registers.ACPower, w))
			Expect(told(im, registers.ACPower)).To(Equal(w))
		}
	})

	It("knows what is not known, and that a device lacks a signal", func() {
		sun := battery()
		_, known := tell(sun, registers.ACPower)
		Expect(known).To(BeFalse())
		Expect(sun.Shown(registers.ChargerCurrent)).To(BeEmpty())
		Expect(sun.Commanded(registers.ACPower)).To(BeEmpty(), "it can be read only")
		Expect(sun.Shown(registers.NoSignal)).To(BeEmpty())
		words := imageOf("  mode: holding 0 uint16, values {3 = hold}, writable\n")
		_, known = words.Decode(words.Shown(registers.Mode)[0], []uint16{4})
		Expect(known).To(BeFalse(), "a word that the map does not have")
	})

	It("encodes what it commands so that the device understands the same", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			m := drawMap(t)
			im := registers.NewImage(m, registers.Options{})
			p := im.Commanded(registers.Setpoint)[0]
			// No more than a word with a sign holds.
			most := 30000 * min(1, p.Scale)
			x := rapid.Float64Range(-most, most).Draw(t, "x")
			words, err := im.Encode(p, x)
			if err != nil {
				t.Fatalf("%g: %v", x, err)
			}
			understood := math.NaN()
			if err := im.Write(p.Address, words, func(c registers.Command) { understood = c.Value }); err != nil {
				t.Fatalf("%g: %v", x, err)
			}
			if math.Abs(understood-x) > p.Scale/2+1e-6*math.Abs(x) {
				t.Fatalf("%g was understood as %g", x, understood)
			}
		})
	})

	It("is told what registers cannot hold", func() {
		im := imageOf("  mode: holding 0 uint16, values {3 = hold}, writable\n  setpoint: holding 1 int16 x 0.1 W, charge positive, writable\n")
		_, err := im.Encode(im.Commanded(registers.Setpoint)[0], 5000)
		Expect(err).To(MatchError("m: setpoint cannot hold 5000 W"))
		_, err = im.Encode(im.Commanded(registers.Mode)[0], registers.ModeCharge)
		Expect(err).To(MatchError("m: mode cannot hold 2 "))
		_, err = im.Encode(im.Commanded(registers.Setpoint)[0], math.NaN())
		Expect(err).To(HaveOccurred())
		Expect(im.Encode(im.Commanded(registers.Mode)[0], registers.ModeHold)).To(Equal([]uint16{3}))
	})

	It("sets the bits that a command needs, leaves the others alone, and takes them away again", func() {
		im := battery()
		need := im.Commanded(registers.ChargeLimit)[0].Needs
		Expect(need.Point).To(Equal("124.StorCtl_Mod"))
		met, changes := im.Meet(need, []uint16{2})
		Expect(met).To(Equal([]uint16{3}))
		Expect(changes).To(BeTrue())
		_, changes = im.Meet(need, met)
		Expect(changes).To(BeFalse())
		unmet, changes := im.Unmeet(need, met)
		Expect(unmet).To(Equal([]uint16{2}))
		Expect(changes).To(BeTrue())
	})
})
