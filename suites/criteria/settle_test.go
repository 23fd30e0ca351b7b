package criteria_test

import (
	"fmt"
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

// secondOrder is the exact unit step response of wn^2/(s^2 + 2 z wn s + wn^2)
// (K. Ogata, Modern Control Engineering, ch. 5).
func secondOrder(z, wn, t float64) float64 {
	switch {
	case t <= 0:
		return 0
	case z < 1:
		wd := wn * math.Sqrt(1-z*z)
		return 1 - math.Exp(-z*wn*t)*(math.Cos(wd*t)+z*wn/wd*math.Sin(wd*t))
	case z == 1:
		return 1 - math.Exp(-wn*t)*(1+wn*t)
	default:
		root := math.Sqrt(z*z - 1)
		a, b := wn*(z-root), wn*(z+root)
		return 1 - (b*math.Exp(-a*t)-a*math.Exp(-b*t))/(b-a)
	}
}

// stepAnswer is a site whose load steps by 1000 W at 5 s; response is how the
// batteries cover it, from 0 to 1.
func stepAnswer(h time.Duration, response func(t float64) float64) site {
	c := calmSite()
	c.step = h
	half := h.Seconds() / 2
	c.load = func(t float64) float64 {
		if t < 5+half {
			return 0
		}
		return 1000
	}
	c.north = func(t float64) float64 { return -1000 * response(t-5) }
	c.edit = func(s *criteria.Sample) { s.Disturbed = at(s, 5) }
	return c
}

var _ = Describe("Settling", func() {
	const ms10 = 10 * time.Millisecond

	DescribeTable("measures the settling time and overshoot of exact second-order responses",
		func(z, wn, overshootPercent, settle2, settle5 float64) {
			for band, want := range map[float64]float64{20: settle2, 50: settle5} {
				m := must(criteria.NewSettle(criteria.Settle{BandW: band, Within: time.Minute}, ms10))
				stepAnswer(ms10, func(t float64) float64 { return secondOrder(z, wn, t) }).run(130*time.Second, m)
				r := m.Result()
				expectSound(r)
				Expect(r.Status).To(Equal(criteria.Passed))
				Expect(r.Exercised).To(Equal(1))
				Expect(r.AtS).To(BeNumerically("~", 5, 1e-9))
				Expect(r.Observed).To(BeNumerically("~", want, max(0.010001, 1e-4*want)))
				// A peak between two samples of 10 ms is missed by at most
				// (wn h)^2 / 8 of the amplitude.
				Expect(figure(r, "overshoot")).To(BeNumerically("~", 10*overshootPercent, 1000*wn*wn*1e-4/8+1e-4))
			}
		},
		// Source: closed form, cross-checked against scipy.signal.step; settling as python-control's step_info defines it.
		Entry("SR-01", 0.1, 1.0, 72.924761, 38.383280, 28.967854),
		Entry("SR-02", 0.2, 1.0, 52.662060, 19.601904, 13.744436),
		Entry("SR-03", 0.4, 1.0, 25.382672, 8.409320, 7.608781),
		Entry("SR-04", 0.5, 1.0, 16.303353, 8.076349, 5.289093),
		Entry("SR-05", 0.5, 2*math.Pi*0.1, 16.303353, 12.853909, 8.417853),
		Entry("SR-06", 0.6, 5.0, 9.478022, 1.188598, 1.045810),
		Entry("SR-07", 0.7, 2.0, 4.598791, 2.989396, 1.449910),
		Entry("SR-08", 1/math.Sqrt2, 1.0, 4.321392, 5.962585, 2.929839),
		Entry("SR-09", 1.0, 1.0, 0.0, 5.833922, 4.743865),
		Entry("SR-10", 1.5, 1.0, 0.0, 10.654685, 8.255805),
	)

	It("measures the settling time of an exact first-order response", func() {
		// Source: check-values SR-11, closed form: 2 % at ln 50, 5 % at ln 20.
		for band, want := range map[float64]float64{20: 3.912023005, 50: 2.995732274} {
			m := must(criteria.NewSettle(criteria.Settle{BandW: band, Within: time.Minute}, ms10))
			stepAnswer(ms10, func(t float64) float64 { return 1 - math.Exp(-max(0, t)) }).run(130*time.Second, m)
			r := m.Result()
			Expect(r.Observed).To(BeNumerically("~", want, 0.010001))
			Expect(figure(r, "overshoot")).To(BeZero())
		}
	})

	band := criteria.Settle{BandW: 200, Within: time.Minute}
	lag := func(tau float64) func(float64) float64 {
		return func(t float64) float64 { return 1 - math.Exp(-max(0, t)/tau) }
	}

	It("fails a response that is too slow, by how much, and names the disturbance", func() {
		m := must(criteria.NewSettle(band, step))
		stepAnswer(step, lag(50)).run(200*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Margin).To(BeNumerically("~", 60-50*math.Log(5), 0.1)) // closed form
		Expect(r.AtS).To(BeNumerically("~", 5, 1e-9))
		Expect(r.FirstBreachS).To(BeNumerically("~", 5, 1e-9))
	})

	It("stops waiting for a response that never comes at twice the time", func() {
		m := must(criteria.NewSettle(band, step))
		stepAnswer(step, constant(0)).run(10*time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Margin).To(BeNumerically("~", -60.1, 1e-9))
		Expect(r.Detail).To(HavePrefix("worst after 0:00:05: still 1000 W off after 120.0 s"))
	})

	It("expects no more than the batteries can do", func() {
		m := must(criteria.NewSettle(band, step))
		c := stepAnswer(step, func(t float64) float64 { return min(0.6, lag(5)(t)) })
		c.roomW = 300
		c.run(200*time.Second, m)
		r := m.Result()
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Observed).To(BeNumerically("<", 10))
	})

	It("expects surplus to remain when the batteries are full", func() {
		m := must(criteria.NewSettle(band, step))
		c := stepAnswer(step, constant(0))
		load := c.load
		c.load = func(t float64) float64 { return -3 * load(t) }
		c.roomW = 0
		c.run(200*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Observed).To(BeZero())
	})

	It("passes one that settles at the last moment, and fails one that takes a step more", func() {
		for late, want := range map[float64]criteria.Status{0: criteria.Passed, 0.1: criteria.Failed} {
			m := must(criteria.NewSettle(band, step))
			stepAnswer(step, func(t float64) float64 {
				if t < 60+late-0.05 {
					return 0
				}
				return 1
			}).run(200*time.Second, m)
			r := m.Result()
			expectSound(r)
			Expect(r.Status).To(Equal(want))
			Expect(r.Margin).To(BeNumerically("~", -late, 1e-9))
			Expect(figure(r, "failed")).To(Equal(math.Round(10 * late)))
		}
	})

	It("is not exercised without a disturbance, nor by one without effect", func() {
		m := must(criteria.NewSettle(band, step))
		c := calmSite()
		c.edit = func(s *criteria.Sample) { s.Disturbed = at(s, 20) }
		c.run(200*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(figure(r, "no_effect")).To(Equal(1.0))
	})

	It("judges a declared disturbance that the net load does not show", func() {
		m := must(criteria.NewSettle(band, step))
		c := calmSite()
		c.north = func(t float64) float64 {
			if t > 20 && t < 45.05 {
				return 700
			}
			return 0
		}
		c.edit = func(s *criteria.Sample) { s.Disturbed = at(s, 20) }
		c.run(200*time.Second, m)
		r := m.Result()
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Observed).To(BeNumerically("~", 25.1, 1e-9))
		Expect(r.AtS).To(BeNumerically("~", 20, 1e-9))
	})

	// thermostat switches 1000 W every half period; the batteries follow slowly. Each edge is declared.
	thermostat := func(half, tau float64) site {
		c := calmSite()
		h := step.Seconds()
		u := 0.0
		c.load = func(t float64) float64 {
			if int(math.Floor((t-h/2)/half))%2 == 1 {
				return 1000
			}
			return 0
		}
		c.north = func(t float64) float64 {
			u += (-c.load(t) - u) * h / tau
			return u
		}
		c.edit = func(s *criteria.Sample) {
			t := float64(s.Tick-1) * h
			s.Disturbed = s.Tick > 1 && math.Abs(math.Remainder(t, half)) < h/2
		}
		return c
	}

	It("is undetermined when each disturbance comes before the last had time to settle", func() {
		m := must(criteria.NewSettle(band, step))
		thermostat(15, 30).run(300*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(figure(r, "censored")).To(BeNumerically(">=", 18))
	})

	It("judges those that settled before the next one came", func() {
		m := must(criteria.NewSettle(band, step))
		thermostat(15, 4).run(300*time.Second, m)
		r := m.Result()
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(19)) // 15 s, 30 s ... 285 s
		Expect(r.Observed).To(BeNumerically("~", 4*math.Log(5), 0.3))
	})

	It("judges no jump that nobody declared", func() {
		m := must(criteria.NewSettle(band, step))
		c := thermostat(15, 30)
		c.edit = nil
		c.run(300*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(figure(r, "undeclared")).To(Equal(19.0)) // 15 s, 30 s ... 285 s
	})

	// cut is a declared step at 5 s that settles like a lag of tau, and at 20 s a jump that nobody declared and
	// nobody answers.
	cut := func(tau float64) site {
		c := stepAnswer(step, lag(tau))
		load := c.load
		c.load = func(t float64) float64 {
			if t > 20.05 {
				return load(t) + 800
			}
			return load(t)
		}
		return c
	}

	It("judges up to a jump that nobody declared, and blames nobody for what follows", func() {
		m := must(criteria.NewSettle(band, step))
		cut(4).run(200*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(1))
		Expect(r.Observed).To(BeNumerically("~", 4*math.Log(5), 0.11)) // closed form
		Expect(figure(r, "undeclared")).To(Equal(1.0))

		m = must(criteria.NewSettle(band, step))
		cut(50).run(200*time.Second, m)
		r = m.Result()
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(figure(r, "censored")).To(Equal(1.0))
	})

	It("judges both edges of a cloud that is declared once, and no jump after it", func() {
		m := must(criteria.NewSettle(band, step))
		c := calmSite()
		c.load = func(t float64) float64 { // a cloud from 10 s to 50 s with edges of 2 s; an oven at 80 s
			w := 1500 * min(max(0, t-10)/2, 1, max(0, 50-t)/2)
			if t > 80.05 {
				w += 1000
			}
			return w
		}
		u := 0.0
		c.north = func(t float64) float64 { u += (-c.load(t) - u) * 0.1 / 3; return u }
		c.edit = func(s *criteria.Sample) {
			s.Disturbed = at(s, 10)
			s.Unfolding = s.Tick > 100 && s.Tick <= 500
		}
		c.run(200*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(2))
		Expect(figure(r, "undeclared")).To(Equal(1.0))
	})

	It("starts the clock anew while the net load moves slowly, and blames nobody for what it does later", func() {
		// A cloud's blunt edge takes 60 s over 3 kW; the batteries follow with a lag that keeps them 250 W behind. Half a
		// minute after it another one, that nobody declared, comes just as slowly.
		m := must(criteria.NewSettle(criteria.Settle{BandW: 200, Within: 30 * time.Second}, step))
		c := calmSite()
		c.load = func(t float64) float64 {
			return 50*min(max(0, t-10), 60) + 50*min(max(0, t-100), 20)
		}
		u := 0.0
		c.north = func(t float64) float64 { u += (-c.load(t) - u) * 0.1 / 5; return u }
		c.edit = func(s *criteria.Sample) {
			s.Disturbed = at(s, 10)
			s.Unfolding = s.Tick > 100 && s.Tick <= 700
		}
		c.run(200*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.AtS).To(BeNumerically("~", 70, 2.1)) // the last 100 W of the edge
		Expect(r.Observed).To(BeNumerically("<", 5))
	})

	It("still fails batteries that do not settle after a slow movement has ended", func() {
		m := must(criteria.NewSettle(criteria.Settle{BandW: 200, Within: 30 * time.Second}, step))
		c := calmSite()
		c.load = func(t float64) float64 { return 50 * min(max(0, t-10), 60) }
		c.edit = func(s *criteria.Sample) {
			s.Disturbed = at(s, 10)
			s.Unfolding = s.Tick > 100 && s.Tick <= 700
		}
		c.run(200*time.Second, m)
		Expect(m.Result().Status).To(Equal(criteria.Failed))
	})

	It("takes a battery that is empty for a disturbance of what the others carry", func() {
		// 20 s after a step north is empty; south takes 10 s to come to help.
		m := must(criteria.NewSettle(criteria.Settle{BandW: 200, Within: 30 * time.Second}, step))
		c := stepAnswer(step, func(t float64) float64 {
			if t > 20 && t < 35 {
				return min(1, max(0, (t-30)/5))
			}
			return 1
		})
		declare := c.edit
		c.edit = func(s *criteria.Sample) {
			declare(s)
			if s.Tick > 250 {
				s.Inverters[1].ACPowerW, s.Inverters[0].ACPowerW, s.Inverters[0].DischargeRoomW = s.Inverters[0].ACPowerW, 0, 0
			}
		}
		c.run(200*time.Second, m)
		r := m.Result()
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Observed).To(BeZero())
	})

	It("takes the steps of one ramp for one disturbance, and starts the clock at its end", func() {
		m := must(criteria.NewSettle(band, step))
		c := calmSite()
		c.load = func(t float64) float64 { return min(max(0, t-10)*500, 2500) }
		c.north = func(t float64) float64 {
			if t < 40.05 {
				return 0
			}
			return -2500
		}
		c.edit = func(s *criteria.Sample) { s.Disturbed = at(s, 10) }
		c.run(200*time.Second, m)
		r := m.Result()
		Expect(r.Exercised).To(Equal(1))
		Expect(r.AtS).To(BeNumerically("~", 15, 0.6))
		Expect(r.Observed).To(BeNumerically("~", 25, 0.8))
	})

	It("does not judge while import or export is wanted", func() {
		for _, mark := range []func(*criteria.Sample){
			func(s *criteria.Sample) { s.ImportWanted = true },
			func(s *criteria.Sample) { s.ExportWanted = true },
		} {
			m := must(criteria.NewSettle(band, step))
			c := stepAnswer(step, constant(0))
			declare := c.edit
			c.edit = func(s *criteria.Sample) { declare(s); mark(s) }
			c.run(200*time.Second, m)
			r := m.Result()
			expectSound(r)
			Expect(r.Status).To(Equal(criteria.NotExercised))
			Expect(figure(r, "wanted")).To(Equal(1.0))
		}
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			const h, band = 0.1, 250.0
			within := int64(rapid.IntRange(5, 60).Draw(t, "within"))
			n := rapid.IntRange(20, 400).Draw(t, "length")
			level := rapid.IntRange(-8, 8)
			trace := make([]criteria.Sample, n)
			load, battery := 0.0, 0.0
			for i := range trace {
				if rapid.IntRange(0, 20).Draw(t, "new load") == 0 {
					load = 100 * float64(level.Draw(t, "load"))
				}
				if rapid.IntRange(0, 6).Draw(t, "new battery") == 0 {
					battery = 100*float64(level.Draw(t, "battery"))*0.3 - load
				}
				trace[i] = criteria.Sample{
					Tick: int64(i + 1), StepS: h, NetLoadW: load, GridW: load + battery,
					Disturbed:    rapid.IntRange(0, 15).Draw(t, "declared") == 0,
					Unfolding:    rapid.Bool().Draw(t, "unfolding"),
					ImportWanted: rapid.IntRange(0, 40).Draw(t, "wanted") == 0,
					Inverters:    []criteria.InverterSample{{ACPowerW: battery, ChargeRoomW: 5000, DischargeRoomW: 5000}},
				}
			}
			m := must(criteria.NewSettle(criteria.Settle{BandW: band, Within: time.Duration(within) * step}, step))
			r := feed(m, trace)
			judged, censored, worst := settleOffline(trace, band, within)
			got := fmt.Sprint(r.Exercised, figure(r, "censored"), math.Round(r.Observed/h))
			if want := fmt.Sprint(judged, censored, worst); got != want {
				t.Fatalf("got judged, censored, worst %s, want %s: %s", got, want, r.Detail)
			}
		})
	})
})

// settleOffline evaluates the definition with the whole trace at hand: first what
// happens, then the windows between.
func settleOffline(trace []criteria.Sample, band float64, within int64) (judged, censored int, worst int64) {
	n := len(trace)
	declared, jumped, moved := make([]bool, n), make([]bool, n), make([]bool, n)
	seenFrom, movedFrom := 0, 0
	span := func(from, to int) float64 {
		low, high := math.Inf(1), math.Inf(-1)
		for _, s := range trace[from : to+1] {
			low, high = min(low, s.NetLoadW), max(high, s.NetLoadW)
		}
		return high - low
	}
	for i := range trace {
		if span(max(seenFrom, i-10), i) > band {
			jumped[i], seenFrom = true, i
		}
		declared[i] = trace[i].Disturbed || jumped[i] && trace[i].Unfolding
		moved[i] = span(movedFrom, i) > band/2
		if moved[i] || declared[i] {
			movedFrom = i
		}
	}
	outside := func(i int) bool { return math.Abs(trace[i].GridW) > band }
	for i := 0; i < n; i++ {
		if trace[i].ImportWanted || !declared[i] && !(moved[i] && trace[i].Unfolding) {
			continue
		}
		start, last, shown := i, i, jumped[i]
		j := i + 1
		for ; j < n && !trace[j].ImportWanted && j-start < int(2*within); j++ {
			if !declared[j] && !jumped[j] && !moved[j] {
				continue
			}
			if j-last > 10 {
				if declared[j] || jumped[j] || !outside(j-1) || j-start >= int(within) {
					break
				}
				shown = true
			}
			start, last, shown = j, j, shown || jumped[j]
		}
		i = j - 1
		settled := int64(0)
		for k := start; k < j; k++ {
			if outside(k) {
				settled = int64(k-start) + 2
			}
		}
		switch {
		case outside(j-1) && int64(j-start) < within:
			censored++
		case settled == 0 && !shown:
		default:
			judged++
			worst = max(worst, settled)
		}
	}
	return judged, censored, worst
}
