package emulator

import (
	"kilter/emulator/registers"
	"kilter/physics"
)

// settingsOf is what a chain tells of how a device is set: what the site's parameters say, and nothing else.
func settingsOf(site *physics.Site, rampWps float64, r *physics.ResponseParams) registers.Settings {
	s := registers.Settings{NominalV: site.Supply.VoltageV, NominalHz: site.Supply.FrequencyHz, RampWps: rampWps}
	if r == nil {
		return s
	}
	s.VoltVar = characteristic(r.VoltVar, r.VoltVarResponseS)
	s.VoltWatt = characteristic(r.VoltWatt, r.VoltWattResponseS)
	s.Trips = len(r.Trips) > 0
	if e := r.Enter; e != (physics.EnterServiceParams{}) {
		s.EnterService = registers.EnterService{
			LowV: e.LowV / site.Supply.VoltageV, HighV: e.HighV / site.Supply.VoltageV, LowHz: e.LowHz, HighHz: e.HighHz, DelayS: e.DelayS,
		}
		if e.RampPerS > 0 {
			s.EnterService.RampS = 1 / e.RampPerS
		}
	}
	if d := r.Frequency.Droop; d.NominalHz > 0 {
		s.Droop = registers.Droop{
			UnderHz: d.NominalHz - d.UnderHz, OverHz: d.OverHz - d.NominalHz, UnderDroop: d.UnderDroop, OverDroop: d.OverDroop,
			ResponseS: r.Frequency.ResponseS,
		}
	}
	return s
}

func characteristic(c physics.Curve, responseS float64) registers.Characteristic {
	out := registers.Characteristic{ResponseS: responseS}
	for _, p := range c {
		out.Add(p.X, p.Y)
	}
	return out
}

// inverterSettings adds what a battery inverter has on its DC side.
func inverterSettings(site *physics.Site, index int) registers.Settings {
	p := &site.Inverters[index]
	ramp := p.RampUpWps
	if p.RampDownWps > 0 && (ramp == 0 || p.RampDownWps < ramp) {
		ramp = p.RampDownWps
	}
	s := settingsOf(site, ramp, p.Response)
	if c := p.Battery.Cell; c != nil {
		s.ChargeAh = c.CapacityAh * float64(max(c.Parallel, 1))
	}
	for i := range site.Arrays {
		s.HasPV = s.HasPV || site.Arrays[i].OnDC && site.Arrays[i].Inverter == index
	}
	return s
}
