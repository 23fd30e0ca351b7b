package control

import (
	"math/rand/v2"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// stepping is net load that steps to a new value every so often [s, W].
func stepping(seed uint64, every, lo, hi float64) func(float64) float64 {
	return func(t float64) float64 {
		r := rand.New(rand.NewPCG(seed, uint64(t/every)))
		return lo + (hi-lo)*r.Float64()
	}
}

func constant(w float64) func(float64) float64 { return func(float64) float64 { return w } }

// at switches between loads at given times [s].
func at(load float64, changes ...[2]float64) func(float64) float64 {
	return func(t float64) float64 {
		w := load
		for _, c := range changes {
			if t >= c[0] {
				w = c[1]
			}
		}
		return w
	}
}

func supervised() *Policy { return &Policy{Settings: DefaultSettings()} }

var _ = Describe("two native loops on one inlet", func() {
	It("circulate power when they are left alone", func() {
		r := bakeryPair(1, constant(-500)).run(10*time.Minute, nil, nil)
		// The drift is k1 k2 (b1 - b2) / ((k1 + k2) Ts), here 0.2 x 0.25 x 25 W / 0.45 s = 2.8 W/s,
		// less a few watts for gain errors (check by hand, source: the difference equation of two integrators).
		Expect(r.longestCirculatingS).To(BeNumerically(">", 300))
		Expect(r.worstCirculatingW).To(BeNumerically(">", 1000))
	})

	It("do not circulate power under the supervisor, and grid flow stays near zero", func() {
		p := bakeryPair(1, constant(-500))
		r := p.run(time.Hour, supervised(), nil)
		Expect(r.longestCirculatingS).To(BeNumerically("<", 30))
		Expect(r.longestUnservedS).To(BeNumerically("<", 20))
		Expect(p.gridW).To(BeNumerically("~", 0, 60))
		Expect(r.writes).To(BeNumerically("<", 20))
	})

	It("do not circulate where only one may be commanded, whichever it is", func() {
		for _, ours := range []string{"north", "south"} {
			for _, load := range []float64{1400, -1400} {
				r := bakeryPair(1, constant(load)).run(time.Hour, supervised(), func(s Snapshot) Snapshot {
					for i := range s.Units {
						s.Units[i].Commanded = s.Units[i].Name == ours
					}
					return s
				})
				Expect(r.longestCirculatingS).To(BeNumerically("<", 30), "%s, %g W", ours, load)
				Expect(r.longestUnservedS).To(BeNumerically("<", 20), "%s, %g W", ours, load)
				Expect(r.writes).To(BeNumerically("<", 120), "%s, %g W", ours, load)
			}
		}
	})

	It("do not circulate for any meter errors, gains and loads", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			seed := rapid.Uint64().Draw(t, "seed")
			every := rapid.SampledFrom([]float64{3600, 600, 240, 90, 45}).Draw(t, "load steps every s")
			p := bakeryPair(seed, stepping(seed, every, -7000, 7000))
			for _, v := range p.inverters {
				v.offsetW = rapid.Float64Range(-30, 30).Draw(t, v.name+" offset")
				v.gainError = rapid.Float64Range(-0.02, 0.02).Draw(t, v.name+" gain error")
				v.gain = rapid.Float64Range(0.12, 0.28).Draw(t, v.name+" gain")
				v.phase = rapid.IntRange(0, 9).Draw(t, v.name+" phase")
				v.latency = rapid.IntRange(2, 5).Draw(t, v.name+" latency")
				v.dead = rapid.IntRange(3, 5).Draw(t, v.name+" dead time")
				v.soc = rapid.Float64Range(0.15, 0.98).Draw(t, v.name+" soc")
			}
			r := p.run(time.Hour, supervised(), nil)
			if r.longestCirculatingS > 30 {
				t.Fatalf("%.0f s above 120 W, up to %.0f W", r.longestCirculatingS, r.worstCirculatingW)
			}
			if r.longestUnservedS > 60 {
				t.Fatalf("grid flow was avoidable for %.0f s", r.longestUnservedS)
			}
			if r.writes > 240 {
				t.Fatalf("%d writes in an hour", r.writes)
			}
		})
	})
})
