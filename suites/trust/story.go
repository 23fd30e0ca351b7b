package trust

import (
	"cmp"
	"fmt"
	"slices"

	"kilter/physics"
)

// story is what happens, in ticks: a busy part, and then a quiet tail in which
// only a constant load, the clear sky and at times a small heater are left.
type story struct {
	events  []event
	quiet   int64   // the tail begins
	lasts   int64   // the run ends
	largest float64 // the largest step that it declares [W]
}

// event is what an author writes under happens.
type event struct {
	at       int64
	action   physics.Action
	disturbs bool
	unfolds  int64 // for how long the disturbance goes on
}

func (t *story) add(at int64, action physics.Action, disturbs bool) *event {
	t.events = append(t.events, event{at: at, action: action, disturbs: disturbs})
	return &t.events[len(t.events)-1]
}

func (t *story) step(w float64) { t.largest = max(t.largest, w) }

// drawStory adds loads, a roof and a van to the site, and says what they do.
func drawStory(c chance, s *physics.Site) story {
	t := story{quiet: c.ticks(1200, 2400)}
	s.Loads = append(s.Loads, physics.LoadParams{Name: "base", PowerW: c.mostly(100, 2500), On: true})
	s.Sky = physics.SkyParams{LatitudeDeg: 50, LongitudeDeg: 10, StartUnixS: 1768867200} // 2026-01-20 00:00 UTC: dark
	for i := range c.IntN(3) {
		t.thermostat(c, s, fmt.Sprint("thermostat_", i+1))
	}
	if c.happens(0.5) {
		t.hob(c, s, "hob", c.seconds(6, 60))
	}
	if c.happens(0.2) {
		// Its period is no multiple of a meter's, and no fraction: two meters that always
		// sample it at the same place would disagree for good.
		t.hob(c, s, "heater", pick(c, 0.7, 1.1, 1.3, 1.7, 1.9, 2.3, 2.9, 3.1))
	}
	if c.happens(0.3) {
		// It never rests, and is too small to be told from calm.
		s.Loads = append(s.Loads, physics.LoadParams{Name: "small heater", Kind: physics.BurstLoad, PowerW: c.between(10, 75), On: true,
			PeriodS: c.seconds(2, 60), Duty: c.between(0.2, 0.8)})
	}
	for i := range c.IntN(3) {
		t.motor(c, s, fmt.Sprint("motor_", i+1))
	}
	if c.happens(0.5) {
		at := len(s.Loads)
		s.Loads = append(s.Loads, physics.LoadParams{Name: "appliances", Kind: physics.RandomLoad, PowerW: c.between(300, 3000), On: true,
			MeanOnS: c.between(10, 200), MeanGapS: c.between(10, 200)})
		t.add(t.quiet, physics.SwitchLoad{Load: at}, true)
		t.step(s.Loads[at].PowerW)
	}
	t.steps(c, s)
	if c.happens(0.5) {
		t.roof(c, s)
	}
	if c.happens(0.4) {
		t.van(c, s)
	}
	slices.SortStableFunc(t.events, func(a, b event) int { return cmp.Compare(a.at, b.at) })
	return t
}

// thermostat heats for some seconds to minutes and rests as long as its duty asks.
func (t *story) thermostat(c chance, s *physics.Site, name string) {
	const tauS, heatedC = 3000, 400
	duty, onS := c.between(0.2, 0.8), c.mostly(15, 400)
	middle := duty * heatedC
	band := onS * (heatedC - middle) / tauS
	at := len(s.Loads)
	s.Loads = append(s.Loads, physics.LoadParams{Name: name, Kind: physics.ThermostatLoad, PowerW: c.mostly(500, 9000),
		TimeConstantS: tauS, HeatedC: heatedC, CutInC: middle - band/2, CutOutC: middle + band/2, InitialC: middle - band})
	t.add(c.ticks(30, 600), physics.SwitchLoad{Load: at, On: true}, true)
	t.add(t.quiet, physics.SwitchLoad{Load: at}, true)
	t.step(s.Loads[at].PowerW)
}

// hob fires for a share of each period.
func (t *story) hob(c chance, s *physics.Site, name string, periodS float64) {
	at := len(s.Loads)
	s.Loads = append(s.Loads, physics.LoadParams{Name: name, Kind: physics.BurstLoad, PowerW: c.between(50, 3000), PeriodS: periodS, Duty: c.between(0.15, 0.85)})
	from := c.ticks(30, 600)
	t.add(from, physics.SwitchLoad{Load: at, On: true}, true)
	t.add(from+c.ticks(300, 1200), physics.SwitchLoad{Load: at}, true)
	t.add(t.quiet, physics.SwitchLoad{Load: at}, true)
	t.step(s.Loads[at].PowerW)
}

func (t *story) motor(c chance, s *physics.Site, name string) {
	at := len(s.Loads)
	s.Loads = append(s.Loads, physics.LoadParams{Name: name, Kind: physics.MotorLoad, PowerW: c.between(300, 2500), InrushFactor: c.between(2, 6), InrushS: c.between(0.1, 0.5)})
	for from := c.ticks(60, 600); from < t.quiet; from += c.ticks(120, 900) {
		t.add(from, physics.SwitchLoad{Load: at, On: true}, true)
		from += c.ticks(20, 400)
		t.add(min(from, t.quiet), physics.SwitchLoad{Load: at}, true)
	}
	t.step(s.Loads[at].PowerW)
}

// steps gives the base load another power now and then.
func (t *story) steps(c chance, s *physics.Site) {
	was := s.Loads[0].PowerW
	for at := c.ticks(120, 900); at < t.quiet; at += c.ticks(120, 900) {
		next := c.mostly(100, 5000)
		t.add(at, physics.SetLoad{Load: 0, PowerW: next}, true)
		t.step(max(next-was, was-next))
		was = next
	}
}

// roof puts panels up on a June noon, mostly under broken cloud.
func (t *story) roof(c chance, s *physics.Site) {
	peak := c.between(3000, 12000)
	s.Sky.StartUnixS = 1781740800 + 9*3600 + int64(c.IntN(5*3600)) // 2026-06-18, 10 to 15 o'clock by the sun
	s.Arrays = append(s.Arrays, physics.ArrayParams{Name: "roof", PeakW: peak, RatingW: peak * c.between(0.8, 1), TiltDeg: c.between(5, 45),
		AzimuthDeg: c.between(120, 240), LossFraction: 0.1, TempCoeffPerK: -0.004, AmbientTempC: 20, NoctTempC: 45, GroundAlbedo: 0.2})
	if c.happens(0.25) {
		return
	}
	clouds := physics.FieldClouds()
	if c.happens(0.7) {
		clouds = physics.BrokenClouds{On: true, MeanGapS: c.between(20, 300), MeanLastS: c.between(15, 90),
			MinDepth: c.between(0.1, 0.5), MaxDepth: c.between(0.5, 0.9), EdgeS: c.between(1, 10), MaxEdgeS: c.between(10, 60), MaxEnhancement: c.between(0, 0.3)}
	}
	// The last clouds are on their way for minutes after the sky has been told to clear.
	from, to := c.ticks(60, 600), t.quiet-c.ticks(300, 600)
	t.add(from, clouds, true).unfolds = to - from
	t.add(to, physics.BrokenClouds{}, true)
	t.step(peak * 0.9)
}

// van comes and goes.
func (t *story) van(c chance, s *physics.Site) {
	amps := c.between(6, 32)
	ph := physics.L1
	if s.Phases == 3 {
		amps, ph = c.between(6, 16), physics.AllPhases
	}
	x := physics.ChargerParams{Name: "van_charger", Phases: ph, MaxA: amps, MinA: 6, ResponseS: c.seconds(0.5, 5), RampAps: c.between(1, 10), CommandedA: amps}
	s.Chargers = append(s.Chargers, x)
	from := c.ticks(120, 900)
	t.add(from, physics.PlugIn{CurrentA: amps}, true).unfolds = int64((x.ResponseS + amps/x.RampAps) / stepS)
	t.add(min(t.quiet, from+c.ticks(300, 1500)), physics.Unplug{}, true)
	t.step(amps * s.Supply.VoltageV * float64(s.Phases))
}
