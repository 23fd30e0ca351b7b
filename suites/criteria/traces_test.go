package criteria_test

import (
	"encoding/json"
	"math"
	"time"

	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

const step = 100 * time.Millisecond

// site builds samples of an invented site: net load and the two batteries, north
// and south, are given, and the grid flow follows from them.
type site struct {
	step       time.Duration
	load       func(t float64) float64
	north      func(t float64) float64
	south      func(t float64) float64
	roomW      float64
	socN, socS float64
	edit       func(s *criteria.Sample)
}

func constant(x float64) func(float64) float64 { return func(float64) float64 { return x } }

func calmSite() site {
	return site{step: step, load: constant(0), north: constant(0), south: constant(0), roomW: 3600, socN: 0.5, socS: 0.5}
}

// run feeds the samples that end at step, 2 step ... d to every monitor.
func (c site) run(d time.Duration, monitors ...criteria.Monitor) {
	h := c.step.Seconds()
	s := criteria.Sample{StepS: h, Inverters: make([]criteria.InverterSample, 2)}
	for tick := int64(1); tick <= int64(d/c.step); tick++ {
		t := float64(tick) * h
		n, north, south := c.load(t), c.north(t), c.south(t)
		s.Tick, s.NetLoadW, s.GivenW, s.GridW = tick, n, n, n+north+south
		s.Disturbed, s.ImportWanted, s.ExportWanted = false, false, false
		s.Inverters[0] = criteria.InverterSample{ACPowerW: north, BatteryW: north, SOC: c.socN, ChargeRoomW: c.roomW, DischargeRoomW: c.roomW}
		s.Inverters[1] = criteria.InverterSample{ACPowerW: south, BatteryW: south, SOC: c.socS, ChargeRoomW: c.roomW, DischargeRoomW: c.roomW}
		say(&s)
		if c.edit != nil {
			c.edit(&s)
		}
		for _, m := range monitors {
			m.Observe(&s)
		}
	}
}

// at is true of the one sample whose step begins at t seconds.
func at(s *criteria.Sample, t float64) bool {
	return math.Abs(float64(s.Tick-1)*s.StepS-t) < s.StepS/2
}

func must(m criteria.Monitor, err error) criteria.Monitor {
	if err != nil {
		panic(err)
	}
	return m
}

// expectSound checks what holds of every result.
func expectSound(r criteria.Result) {
	_, err := json.Marshal(r)
	Expect(err).NotTo(HaveOccurred())
	Expect(r.Passed).To(Equal(r.Status == criteria.Passed))
	if r.Status == criteria.Passed || r.Status == criteria.Failed {
		Expect(r.Exercised).To(BeNumerically(">", 0))
		Expect(r.Valid).To(BeTrue())
		Expect(r.Margin >= 0).To(Equal(r.Passed))
		if r.AtLeast {
			Expect(r.Margin).To(BeNumerically("~", r.Observed-r.Limit, 1e-6))
		} else {
			Expect(r.Margin).To(BeNumerically("~", r.Limit-r.Observed, 1e-6))
		}
	}
	if r.Status == criteria.NotExercised {
		Expect(r.Exercised).To(BeZero())
	}
	Expect(r.Clauses).NotTo(BeEmpty())
	for _, c := range r.Clauses {
		Expect(c.Formula).NotTo(BeEmpty())
		Expect(c.Unit).NotTo(BeEmpty())
	}
}

func figure(r criteria.Result, name string) float64 {
	for _, f := range r.Figures {
		if f.Name == name {
			return f.Value
		}
	}
	panic("no figure " + name)
}

// drawTrace draws a random trace of a site with one to four inverters.
func drawTrace(t *rapid.T) []criteria.Sample {
	n := rapid.IntRange(1, 60).Draw(t, "length")
	inverters := rapid.IntRange(1, 4).Draw(t, "inverters")
	watts := rapid.Map(rapid.IntRange(-40, 40), func(i int) float64 { return 50 * float64(i) })
	room := rapid.Map(rapid.IntRange(0, 20), func(i int) float64 { return 100 * float64(i) })
	trace := make([]criteria.Sample, n)
	for i := range trace {
		s := criteria.Sample{Tick: int64(i + 1), StepS: step.Seconds(), NetLoadW: watts.Draw(t, "load")}
		s.GridW = s.NetLoadW
		for range inverters {
			p := watts.Draw(t, "power")
			s.GridW += p
			s.Inverters = append(s.Inverters, criteria.InverterSample{
				ACPowerW: p, BatteryW: p, SOC: rapid.Float64Range(0, 1).Draw(t, "soc"),
				ChargeRoomW: max(p, room.Draw(t, "charge")), DischargeRoomW: max(-p, room.Draw(t, "discharge")),
			})
		}
		trace[i] = s
	}
	return trace
}

func feed(m criteria.Monitor, trace []criteria.Sample) criteria.Result {
	for i := range trace {
		m.Observe(&trace[i])
	}
	return m.Result()
}

func rooms(s criteria.Sample) (charge, discharge float64) {
	for _, i := range s.Inverters {
		charge += i.ChargeRoomW
		discharge += i.DischargeRoomW
	}
	return charge, discharge
}

// largestWindowMin is the plain definition, by two loops.
func largestWindowMin(x []float64, k int) (worst float64, start int, ok bool) {
	worst = math.Inf(-1)
	for i := 0; i+k <= len(x); i++ {
		least := math.Inf(1)
		for _, v := range x[i : i+k] {
			least = min(least, v)
		}
		if least > worst {
			worst, start, ok = least, i, true
		}
	}
	return worst, start, ok
}

// fullWindows counts the windows of k samples in which every value is 1.
func fullWindows(x []float64, k int) (n int) {
	for i := 0; i+k <= len(x); i++ {
		if least, _, _ := largestWindowMin(x[i:i+k], k); least == 1 {
			n++
		}
	}
	return n
}
