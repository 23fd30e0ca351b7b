package scenarios

import (
	"slices"

	"kilter/physics"
)

func arrayFileOf(p *physics.Site, a physics.ArrayParams) *arrayFile {
	f := &arrayFile{
		Phases: phasesWords(a.Phases), Peak: amount(a.PeakW), Rating: amount(a.RatingW), Tilt: amount(a.TiltDeg), Azimuth: amount(a.AzimuthDeg),
		Loss: amount(a.LossFraction), Temperature: amount(a.TempCoeffPerK), Ambient: amount(a.AmbientTempC), Noct: amount(a.NoctTempC),
		Albedo: amount(a.GroundAlbedo), WakesAt: amount(a.StartSwitchedW),
		LowLight: amount(a.LowLight), Efficiency: amountUnless0(a.RatedEfficiency), Answers: answersFileOf(a.Response),
	}
	if a.OnDC {
		f.OnDC = words(p.Inverters[a.Inverter].Name)
	}
	if l := a.Limit; l != nil {
		f.Limitation = &limitationFile{
			Follows: words(p.Meters[l.Meter].Name), Limit: amount(l.LimitW), Period: amount(l.PeriodS), Gain: amount(l.Gain),
		}
	}
	return f
}

func chargerFileOf(p *physics.Site, c physics.ChargerParams) *chargerFile {
	f := &chargerFile{
		Phases: phasesWords(c.Phases), Max: amount(c.MaxA), Min: amount(c.MinA), Response: amount(c.ResponseS),
		Ramp: amountUnless0(c.RampAps), Offer: amount(c.CommandedA), Taper: amountUnless0(c.TaperWh),
	}
	if s := c.Surplus; s != nil {
		f.Surplus = &surplusFile{
			Follows: words(p.Meters[s.Meter].Name), Target: amount(s.TargetW), Period: amount(s.PeriodS), Gain: amount(s.Gain), Hold: amount(s.HoldS),
		}
	}
	return f
}

func loadFileOf(l physics.LoadParams) *loadFile {
	f := &loadFile{
		Phases: phasesWords(l.Phases), Power: amount(l.PowerW), Switch: onOff(l.On, "on", "off"), Factor: amountUnless0(l.PowerFactor),
	}
	switch l.Kind {
	case physics.ThermostatLoad:
		f.Thermostat = &thermostatFile{
			TimeConstant: amount(l.TimeConstantS), Heated: amount(l.HeatedC), CutIn: amount(l.CutInC), CutOut: amount(l.CutOutC), Initial: amount(l.InitialC),
		}
	case physics.MotorLoad:
		f.Motor = &motorFile{Inrush: amount(l.InrushFactor), Decay: amount(l.InrushS)}
	case physics.BurstLoad:
		f.Burst = &burstFile{Duty: amount(l.Duty), Period: amount(l.PeriodS)}
	case physics.RandomLoad:
		f.Random = &randomFile{On: amount(l.MeanOnS), Gap: amount(l.MeanGapS)}
		if l.HourShare != ([24]float64{}) {
			for _, share := range l.HourShare {
				f.Random.Hours = append(f.Random.Hours, amount(share))
			}
		}
	case physics.ProfileLoad:
		f.Profile = &profileFile{}
		if slices.ContainsFunc(l.Profile, func(p physics.ProfilePoint) bool { return p.PowerW < 0 }) {
			f.Net = yesIf(true)
		}
		for _, pt := range l.Profile {
			f.Profile.Points = append(f.Profile.Points, &profilePointFile{When: lastingMS(pt.AtMS), Power: amount(pt.PowerW)})
		}
	}
	return f
}
