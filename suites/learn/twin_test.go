package learn

import (
	"fmt"
	"math"
	"math/rand/v2"

	"kilter/physics"
)

// twin is a random site whose truth is known, and the log that somebody would have of it.
type twin struct {
	site   physics.Site
	record Record
	ramps  [2]int // samples at which the output was held back by its ramp
}

func newTwin(seed uint64, stepS, lastsS float64) *twin {
	r := rand.New(rand.NewPCG(seed, 7))
	pick := func(v ...float64) float64 { return v[r.IntN(len(v))] }
	in := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	tenth := func(a, b float64) float64 { return math.Round(in(a, b)*10) / 10 }
	s := physics.Site{
		StepMS: 100, Seed: seed, Phases: 1,
		Supply:  physics.Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders: []physics.Feeder{{Name: "supply", Parent: -1}},
	}
	most := pick(0.4, 0.6) // with the latter many hunt
	for i := range 2 {
		ts := pick(1, 1, 1, 2, 3, 5)
		refresh := pick(0.5, 1, ts)
		if math.Mod(ts, refresh) != 0 {
			refresh = ts
		}
		s.Meters = append(s.Meters, physics.MeterParams{
			Name: fmt.Sprintf("ct%d", i), RefreshS: refresh, PhaseS: tenth(0, refresh-0.1), LatencyS: tenth(0, 0.3),
			OffsetW: math.Round(in(-25, 25)), NoiseW: in(0.5, 3), ResolutionW: 1,
		})
		rating := pick(3000, 3600, 4600, 5000)
		ramp := math.Exp(in(math.Log(150), math.Log(2000)))
		s.Inverters = append(s.Inverters, physics.InverterParams{
			Name: []string{"north", "south"}[i], RatingW: rating, Efficiency: 0.96, DeadTimeS: tenth(0.1, 0.8), LagS: in(0.2, 1.2),
			RampUpWps: ramp, RampDownWps: ramp,
			Battery: physics.BatteryParams{
				CapacityWh: in(5000, 15000), ChargeEfficiency: 0.97, DischargeEfficiency: 0.97, MaxChargeW: rating, MaxDischargeW: rating / 0.96,
				InitialSOC: 0.5, ReserveSOC: 0.05, TaperAboveSOC: 0.95, TaperBelowSOC: 0.02,
			},
			Loop: physics.LoopParams{Meter: i, Gain: in(0.08, most), PeriodS: ts, PhaseS: tenth(0, ts-0.1)},
		})
	}
	var prof []physics.ProfilePoint
	level, t := in(300, 1500), int64(0)
	prof = append(prof, physics.ProfilePoint{AtMS: 0, PowerW: level})
	meanGap := max(45, stepS*12)
	for float64(t) < lastsS*1000 {
		t += int64(1000 * (5 + meanGap*r.ExpFloat64()))
		next := in(-1500, 2800)
		if r.IntN(3) > 0 { // an appliance
			prof = append(prof, physics.ProfilePoint{AtMS: t, PowerW: level}, physics.ProfilePoint{AtMS: t + 1, PowerW: next})
		} else { // a cloud's edge
			ms := int64(1000 * in(3, 15))
			prof = append(prof, physics.ProfilePoint{AtMS: t, PowerW: level}, physics.ProfilePoint{AtMS: t + ms, PowerW: next})
			t += ms
		}
		level = next
	}
	s.Loads = []physics.LoadParams{{Name: "rest", Kind: physics.ProfileLoad, On: true, Profile: prof}}
	p, err := physics.New(s)
	if err != nil {
		panic(err)
	}
	w := &twin{site: s, record: Record{StepS: stepS, Units: []Unit{{Name: "north"}, {Name: "south"}}}}
	every := int(stepS * 10)
	gridNoise, unitNoise := in(0.5, 3), in(0.2, 2)
	var last [2]float64
	for n := 0; n <= int(lastsS*10); n++ {
		if n%every == 0 {
			w.record.GridW = append(w.record.GridW, math.Round(p.GridW+gridNoise*r.NormFloat64()))
			for i := range 2 {
				u := &w.record.Units[i]
				u.PowerW = append(u.PowerW, math.Round(p.Inverters[i].PowerW+unitNoise*r.NormFloat64()))
				u.SOC = append(u.SOC, math.Round(p.Inverters[i].Battery.SOC*1000)/1000)
				if n > 0 && math.Abs(p.Inverters[i].PowerW-last[i]) > 0.09*s.Inverters[i].RampUpWps {
					w.ramps[i]++
				}
			}
		}
		last = [2]float64{p.Inverters[0].PowerW, p.Inverters[1].PowerW}
		p.Step()
	}
	return w
}

// truth is the device that learn should find.
func (w *twin) truth(i int) Device {
	v, m := w.site.Inverters[i], w.site.Meters[i]
	l := v.Loop
	// age of the meter's sample when the loop acts on it.
	loop := l.PhaseS
	wait := math.Mod(loop-m.PhaseS-m.LatencyS+10*m.RefreshS, m.RefreshS)
	if wait > m.RefreshS-1e-6 {
		wait = 0
	}
	age := wait + m.LatencyS
	return Device{
		Gain: l.Gain, PeriodS: l.PeriodS, RefreshS: max(m.RefreshS, l.PeriodS), PhaseS: math.Mod(loop-age+10*l.PeriodS, l.PeriodS),
		DeadS: age + v.DeadTimeS, LagS: v.LagS, RampWps: v.RampUpWps, OffsetW: m.OffsetW, ChargeW: v.RatingW, DischargeW: v.RatingW,
	}
}
