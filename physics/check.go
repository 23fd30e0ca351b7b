package physics

import (
	"errors"
	"fmt"
)

// faults collects every reason why a site cannot be made into a plant.
type faults struct {
	site *Site
	errs []error
}

func (f *faults) bad(format string, args ...any) {
	f.errs = append(f.errs, fmt.Errorf(format, args...))
}

func (f *faults) positive(name, what string, v float64) {
	if !(v > 0) {
		f.bad("%s: %s %g: must be positive", name, what, v)
	}
}

func (f *faults) atLeast(name, what string, v, min float64) {
	if !(v >= min) {
		f.bad("%s: %s %g: must be at least %g", name, what, v, min)
	}
}

func (f *faults) within(name, what string, v, lo, hi float64) {
	if !(v >= lo && v <= hi) {
		f.bad("%s: %s %g: must be %g to %g", name, what, v, lo, hi)
	}
}

// whole wants a time that is a multiple of the step.
func (f *faults) whole(name, what string, seconds float64) {
	if _, err := f.site.ticks(seconds); err != nil {
		f.bad("%s: %s: %w", name, what, err)
	}
}

func (f *faults) feeder(name string, i int) {
	if i < 0 || i >= len(f.site.Feeders) {
		f.bad("%s: feeder %d does not exist", name, i)
	}
}

func (f *faults) meter(name string, i int) {
	if i < 0 || i >= len(f.site.Meters) {
		f.bad("%s: the meter that it follows does not exist", name)
	}
}

func (f *faults) phase(name, what string, phaseS, periodS float64) {
	if !(phaseS >= 0 && phaseS < periodS) {
		f.bad("%s: %s %g s: must be from 0 to less than the period of %g s", name, what, phaseS, periodS)
	}
}

func (f *faults) curve(name, what string, c Curve) {
	if c == nil {
		return
	}
	if err := c.Check(); err != nil {
		f.bad("%s: %s: %w", name, what, err)
	}
}

// check returns every reason why the site cannot be made into a plant.
func (s *Site) check() error {
	f := &faults{site: s}
	if s.StepMS < 10 || s.StepMS > 1000 {
		f.bad("step of %d ms: must be 10 to 1000 ms", s.StepMS)
		return errors.Join(f.errs...)
	}
	f.supply()
	for i := range s.Meters {
		f.meterParams(&s.Meters[i])
	}
	for i := range s.Inverters {
		f.inverter(&s.Inverters[i])
	}
	for i := range s.Arrays {
		f.array(&s.Arrays[i])
	}
	for i := range s.Loads {
		f.load(&s.Loads[i])
	}
	for i := range s.Chargers {
		f.charger(&s.Chargers[i])
	}
	f.sky()
	return errors.Join(f.errs...)
}

func (f *faults) supply() {
	s := f.site
	if s.Phases != 1 && s.Phases != 3 {
		f.bad("supply with %d phases: must be 1 or 3", s.Phases)
	}
	u := &s.Supply
	if !(u.VoltageV > 0) {
		f.bad("supply voltage %g V: must be positive", u.VoltageV)
	}
	f.atLeast("supply", "neutral resistance", u.NeutralOhm, 0)
	f.atLeast("supply", "neutral reactance", u.NeutralXOhm, 0)
	if u.FuseMelts {
		if _, err := NewFuse(u.FuseA, u.FusePosition, 1); err != nil {
			f.bad("supply: %w", err)
		}
	}
	if len(s.Feeders) == 0 || s.Feeders[0].Parent != -1 {
		f.bad("the first feeder must be the supply, with parent -1")
	}
	for i, x := range s.Feeders {
		if i > 0 && (x.Parent < 0 || x.Parent >= i) {
			f.bad("feeder %q: its parent must stand before it", x.Name)
		}
	}
}

func (f *faults) meterParams(m *MeterParams) {
	f.feeder(m.Name, m.Feeder)
	f.positive(m.Name, "refresh", m.RefreshS)
	f.whole(m.Name, "refresh", m.RefreshS)
	f.whole(m.Name, "phase", m.PhaseS)
	f.whole(m.Name, "latency", m.LatencyS)
	f.atLeast(m.Name, "latency", m.LatencyS, 0)
	f.atLeast(m.Name, "noise", m.NoiseW, 0)
	f.atLeast(m.Name, "resolution", m.ResolutionW, 0)
	f.phase(m.Name, "phase", m.PhaseS, m.RefreshS)
	if m.CTs != nil {
		for k, t := range m.CTs {
			if t.Clasps > L3 || f.site.Phases == 1 && t.Clasps > L1 {
				f.bad("%s: transformer %d clasps a conductor that does not exist", m.Name, k+1)
			}
		}
	}
}

func (f *faults) inverter(v *InverterParams) {
	f.feeder(v.Name, v.Feeder)
	f.positive(v.Name, "rating", v.RatingW)
	f.within(v.Name, "efficiency", v.Efficiency, 0.01, 1)
	f.whole(v.Name, "dead time", v.DeadTimeS)
	f.atLeast(v.Name, "dead time", v.DeadTimeS, 0)
	f.atLeast(v.Name, "lag", v.LagS, 0)
	f.atLeast(v.Name, "ramp up", v.RampUpWps, 0)
	f.atLeast(v.Name, "ramp down", v.RampDownWps, 0)
	f.whole(v.Name, "changeover", v.ChangeoverS)
	f.atLeast(v.Name, "self-consumption", v.SelfConsumptionW, 0)
	f.atLeast(v.Name, "standby consumption", v.StandbyW, 0)
	f.atLeast(v.Name, "resolution", v.ResolutionW, 0)
	f.atLeast(v.Name, "least power", v.MinimumW, 0)
	if v.EfficiencyForm == SandiaEfficiency && !(v.Sandia.RatedACW > 0 && v.Sandia.RatedDCW > v.Sandia.RatedACW) {
		f.bad("%s: the Sandia efficiency needs a rated DC power above the rated AC power, both positive", v.Name)
	}
	for i, w := range v.Timed {
		if w.ToMS <= w.FromMS || i > 0 && w.FromMS < v.Timed[i-1].ToMS {
			f.bad("%s: timed window %d: must end after it begins, and begin after the one before it ends", v.Name, i+1)
		}
	}
	f.response(v.Name, v.Response)
	if b := v.Backup; b != nil {
		f.whole(v.Name, "changeover to backup", b.ChangeoverS)
		f.atLeast(v.Name, "overload", b.OverloadBy, 0)
		f.atLeast(v.Name, "overload time", b.OverloadS, 0)
		if b.Feeder <= 0 || b.Feeder >= len(f.site.Feeders) || !f.below(v.Feeder, b.Feeder) {
			f.bad("%s: it backs up feeder %d, which must be its own or one above it, and not the supply", v.Name, b.Feeder)
		}
	}
	f.battery(v.Name, &v.Battery)
	l := v.Loop
	if l.Meter < 0 {
		return
	}
	f.meter(v.Name, l.Meter)
	f.positive(v.Name, "loop gain", l.Gain)
	f.positive(v.Name, "loop period", l.PeriodS)
	f.whole(v.Name, "loop period", l.PeriodS)
	f.whole(v.Name, "loop phase", l.PhaseS)
	f.atLeast(v.Name, "loop deadband", l.DeadbandW, 0)
	f.within(v.Name, "loop leak", l.Leak, 0, 1)
	f.phase(v.Name, "loop phase", l.PhaseS, l.PeriodS)
}

// below says whether a feeder is another one or wired below it.
func (f *faults) below(feeder, above int) bool {
	for n := feeder; n >= 0 && n < len(f.site.Feeders); n = f.site.Feeders[n].Parent {
		if n == above {
			return true
		}
		if f.site.Feeders[n].Parent >= n {
			return false // told already
		}
	}
	return false
}

func (f *faults) battery(name string, b *BatteryParams) {
	f.positive(name, "capacity", b.CapacityWh)
	f.within(name, "charge efficiency", b.ChargeEfficiency, 0.01, 1)
	f.within(name, "discharge efficiency", b.DischargeEfficiency, 0.01, 1)
	f.positive(name, "largest charging power", b.MaxChargeW)
	f.positive(name, "largest discharging power", b.MaxDischargeW)
	f.within(name, "initial state of charge", b.InitialSOC, 0, 1)
	f.within(name, "reserve", b.ReserveSOC, 0, 1)
	f.within(name, "upper taper", b.TaperAboveSOC, 0, 1)
	f.within(name, "lower taper", b.TaperBelowSOC, 0, 1)
	f.atLeast(name, "the battery's standby consumption", b.StandbyW, 0)
	if t := b.Thermal; t != nil {
		f.positive(name, "heat capacity", t.CapacityJpK)
		f.positive(name, "thermal resistance", t.ResistanceKpW)
	}
	if _, err := newFineBattery(b, float64(f.site.StepMS)/1000); err != nil {
		f.bad("%s: battery: %w", name, err)
	}
}

func (f *faults) response(name string, r *ResponseParams) {
	if r == nil {
		return
	}
	f.curve(name, "volt-watt", r.VoltWatt)
	f.curve(name, "volt-var", r.VoltVar)
	f.atLeast(name, "response time", min(r.VoltWattResponseS, r.VoltVarResponseS, r.Frequency.ResponseS, r.Frequency.DelayS, r.Enter.DelayS), 0)
	if len(r.Trips) > maxTripStages {
		f.bad("%s: %d protection stages: at most %d", name, len(r.Trips), maxTripStages)
	}
}

func (f *faults) array(a *ArrayParams) {
	f.feeder(a.Name, a.Feeder)
	f.positive(a.Name, "peak power", a.PeakW)
	f.positive(a.Name, "rating", a.RatingW)
	f.within(a.Name, "tilt", a.TiltDeg, 0, 90)
	f.within(a.Name, "azimuth", a.AzimuthDeg, 0, 360)
	f.within(a.Name, "loss", a.LossFraction, 0, 1)
	f.within(a.Name, "loss at low light", a.LowLight, 0, 0.05)
	f.within(a.Name, "rated efficiency", a.RatedEfficiency, 0, 1)
	if a.OnDC && (a.Inverter < 0 || a.Inverter >= len(f.site.Inverters)) {
		f.bad("%s: the inverter whose DC side it is on does not exist", a.Name)
	}
	f.response(a.Name, a.Response)
	if l := a.Limit; l != nil {
		f.meter(a.Name, l.Meter)
		f.positive(a.Name, "period of the export limitation", l.PeriodS)
		f.whole(a.Name, "period of the export limitation", l.PeriodS)
		f.positive(a.Name, "gain of the export limitation", l.Gain)
		f.atLeast(a.Name, "export limit", l.LimitW, 0)
	}
}

func (f *faults) load(l *LoadParams) {
	f.feeder(l.Name, l.Feeder)
	f.atLeast(l.Name, "power", l.PowerW, 0)
	switch l.Kind {
	case ThermostatLoad:
		f.positive(l.Name, "time constant", l.TimeConstantS)
		if !(l.CutInC < l.CutOutC && l.CutOutC < l.HeatedC) {
			f.bad("%s: thermostat must cut in at less than it cuts out, and heating must reach more", l.Name)
		}
	case MotorLoad:
		f.atLeast(l.Name, "inrush", l.InrushFactor, 1)
		f.positive(l.Name, "inrush time", l.InrushS)
	case BurstLoad:
		f.positive(l.Name, "burst period", l.PeriodS)
		f.whole(l.Name, "burst period", l.PeriodS)
		f.within(l.Name, "burst duty", l.Duty, 0, 1)
	case RandomLoad:
		f.positive(l.Name, "mean duration of a use", l.MeanOnS)
		f.positive(l.Name, "mean gap between uses", l.MeanGapS)
		for _, share := range l.HourShare {
			f.within(l.Name, "share of an hour", share, 0, 1)
		}
	}
	if pf := l.PowerFactor; pf != 0 && !(pf >= -1 && pf <= 1 && (pf >= 0.05 || pf <= -0.05)) {
		f.bad("%s: power factor %g: must be 0.05 to 1, lagging positive and leading negative", l.Name, pf)
	}
	for i := 1; i < len(l.Profile); i++ {
		if l.Profile[i].AtMS <= l.Profile[i-1].AtMS {
			f.bad("%s: profile point %d is not later than the one before it", l.Name, i+1)
		}
	}
}

func (f *faults) charger(c *ChargerParams) {
	f.feeder(c.Name, c.Feeder)
	f.positive(c.Name, "largest current", c.MaxA)
	f.within(c.Name, "least current", c.MinA, 0, c.MaxA)
	f.whole(c.Name, "response", c.ResponseS)
	f.atLeast(c.Name, "ramp", c.RampAps, 0)
	f.atLeast(c.Name, "taper", c.TaperWh, 0)
	if l := c.Surplus; l != nil {
		f.meter(c.Name, l.Meter)
		f.positive(c.Name, "period of the surplus loop", l.PeriodS)
		f.whole(c.Name, "period of the surplus loop", l.PeriodS)
		f.positive(c.Name, "gain of the surplus loop", l.Gain)
		f.atLeast(c.Name, "hold of the surplus loop", l.HoldS, 0)
	}
}

func (f *faults) sky() {
	s := f.site
	f.within("sky", "altitude", s.Sky.AltitudeM, -500, 9000)
	f.within("sky", "turbidity", s.Sky.LinkeTurbidity, 0, 20)
	f.within("sky", "aerosol depth", s.Sky.AerosolDepth, 0, 0.45)
	f.within("sky", "precipitable water", s.Sky.WaterCM, 0, 10)
	for i := 1; i < len(s.Sky.Irradiance); i++ {
		if s.Sky.Irradiance[i].AtMS <= s.Sky.Irradiance[i-1].AtMS {
			f.bad("irradiance point %d is not later than the one before it", i+1)
		}
	}
}

// ticks converts a time [s] to a whole number of steps, or says why it cannot.
func (s *Site) ticks(seconds float64) (int64, error) {
	ms := float64(seconds * 1000)
	n := int64(ms + 0.5)
	if seconds < 0 {
		return 0, fmt.Errorf("%g s is negative", seconds)
	}
	if d := ms - float64(n); d > 1e-6 || d < -1e-6 {
		return 0, fmt.Errorf("%g s is not a whole number of milliseconds", seconds)
	}
	if n%s.StepMS != 0 {
		return 0, fmt.Errorf("%g s is not a multiple of the step of %d ms", seconds, s.StepMS)
	}
	return n / s.StepMS, nil
}
