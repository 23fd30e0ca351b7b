package scenarios

import (
	"fmt"

	"kilter/physics"
)

// siteFileOf shows a site as the file that would make it.
func siteFileOf(s *Site) (*siteFile, error) {
	p := &s.Plant
	sup := &supplyFile{
		Phases: said(uint64(p.Phases)), Voltage: amount(p.Supply.VoltageV), Frequency: amount(p.Supply.FrequencyHz),
		Fuse: amountUnless0(p.Supply.FuseA), ImportLimit: amountUnless0(p.Supply.ImportLimitW), ExportLimit: amountUnless0(p.Supply.ExportLimitW),
		Impedance: &impedanceFile{Resistance: amount(p.Supply.ResistanceOhm), Reactance: amount(p.Supply.ReactanceOhm)},
	}
	f := &siteFile{
		Format: said(1), Site: words(s.Name), Title: words(s.Title), Supply: sup,
		Place: &placeFile{Latitude: amount(p.Sky.LatitudeDeg), Longitude: amount(p.Sky.LongitudeDeg), Altitude: amount(p.Sky.AltitudeM)},
		Air: &airFile{
			Model: wordFor(clearSkies, p.Sky.ClearSky), Diffuse: wordFor(diffuses, p.Sky.Diffuse),
			Turbidity: amountUnless0(p.Sky.LinkeTurbidity), Aerosol: amountUnless0(p.Sky.AerosolDepth), Water: amountUnless0(p.Sky.WaterCM),
		},
	}
	trees := make([]*feederFile, len(p.Feeders))
	for i := range p.Feeders {
		trees[i] = &feederFile{}
	}
	byName := map[string]*feederFile{}
	for i, fd := range p.Feeders {
		byName[fd.Name] = trees[i]
	}
	for _, d := range s.Devices {
		at := byName[d.Feeder]
		if at == nil {
			return nil, fmt.Errorf("device %s is on the feeder %s, which the site does not have", d.Name, d.Feeder)
		}
		wire, err := wireFileOf(d.Wire)
		if err != nil {
			return nil, err
		}
		if d.Kind == Meter {
			at.Meters = append(at.Meters, entry[meterFile]{Name: d.Name, Value: meterFileOf(p.Meters[d.Index], wire)})
			continue
		}
		at.Devices = append(at.Devices, entry[deviceFile]{Name: d.Name, Value: deviceFileOf(p, d, wire)})
	}
	for i, fd := range p.Feeders[1:] {
		parent := trees[fd.Parent]
		parent.Feeders = append(parent.Feeders, entry[*feederFile]{Name: fd.Name, Value: trees[i+1]})
	}
	sup.Meters, sup.Devices, sup.Feeders = trees[0].Meters, trees[0].Devices, trees[0].Feeders
	return f, nil
}

// wordFor finds the word of a value; each value has one.
func wordFor[V comparable](words map[string]V, v V) text {
	for word, of := range words {
		if of == v {
			return text{s: word, set: true}
		}
	}
	return text{}
}

func meterFileOf(m physics.MeterParams, wire *wireFile) meterFile {
	return meterFile{
		Phases: phasesWords(m.Phases), Orientation: onOff(m.Reversed, "reversed", "right"),
		Refresh: amount(m.RefreshS), Phase: amount(m.PhaseS), Latency: amount(m.LatencyS), Offset: amount(m.OffsetW),
		GainError: amount(m.GainError), Noise: amount(m.NoiseW), Resolution: amount(m.ResolutionW), Wire: wire,
	}
}

func deviceFileOf(p *physics.Site, d Device, wire *wireFile) deviceFile {
	f := deviceFile{Wire: wire}
	switch d.Kind {
	case Inverter:
		f.Inverter = inverterFileOf(p, p.Inverters[d.Index])
	case Array:
		f.Array = arrayFileOf(p.Arrays[d.Index])
	case Load:
		f.Load = loadFileOf(p.Loads[d.Index])
	case Charger:
		c := p.Chargers[d.Index]
		f.Charger = &chargerFile{
			Phases: phasesWords(c.Phases), Max: amount(c.MaxA), Min: amount(c.MinA), Response: amount(c.ResponseS),
			Ramp: amountUnless0(c.RampAps), Offer: amount(c.CommandedA),
		}
	case Tariff:
		f.Tariff = &tariffFile{}
	}
	return f
}

func inverterFileOf(p *physics.Site, v physics.InverterParams) *inverterFile {
	b := v.Battery
	f := &inverterFile{
		Phases: phasesWords(v.Phases), Rating: amount(v.RatingW), Efficiency: amount(v.Efficiency), DeadTime: amount(v.DeadTimeS),
		RampUp: amountUnless0(v.RampUpWps), RampDown: amountUnless0(v.RampDownWps), Lag: amount(v.LagS),
		Reconnect: amount(v.ReconnectS), CommandLife: amountUnless0(v.CommandLifeS),
		Battery: &batteryFile{
			Capacity: amount(b.CapacityWh), ChargeEfficiency: amount(b.ChargeEfficiency), DischargeEfficiency: amount(b.DischargeEfficiency),
			MaxCharge: amount(b.MaxChargeW), MaxDischarge: amount(b.MaxDischargeW), SOC: amount(b.InitialSOC), Reserve: amount(b.ReserveSOC),
			TaperAbove: amount(b.TaperAboveSOC), TaperBelow: amount(b.TaperBelowSOC),
		},
	}
	if l := v.Loop; l.Meter >= 0 {
		f.Loop = &loopFile{
			Follows: words(p.Meters[l.Meter].Name), Gain: amount(l.Gain), Period: amount(l.PeriodS), Phase: amount(l.PhaseS),
			Target: amount(l.TargetW), Deadband: amount(l.DeadbandW), Leak: amount(l.Leak),
		}
	}
	return f
}

func arrayFileOf(a physics.ArrayParams) *arrayFile {
	return &arrayFile{
		Phases: phasesWords(a.Phases), Peak: amount(a.PeakW), Rating: amount(a.RatingW), Tilt: amount(a.TiltDeg), Azimuth: amount(a.AzimuthDeg),
		Loss: amount(a.LossFraction), Temperature: amount(a.TempCoeffPerK), Ambient: amount(a.AmbientTempC), Noct: amount(a.NoctTempC),
		Albedo: amount(a.GroundAlbedo), WakesAt: amount(a.StartSwitchedW),
		LowLight: amount(a.LowLight), Efficiency: amountUnless0(a.RatedEfficiency),
	}
}

func loadFileOf(l physics.LoadParams) *loadFile {
	f := &loadFile{Phases: phasesWords(l.Phases), Power: amount(l.PowerW), Switch: onOff(l.On, "on", "off")}
	switch l.Kind {
	case physics.ThermostatLoad:
		f.Thermostat = &thermostatFile{
			TimeConstant: amount(l.TimeConstantS), Heated: amount(l.HeatedC), CutIn: amount(l.CutInC), CutOut: amount(l.CutOutC), Initial: amount(l.InitialC),
		}
	case physics.MotorLoad:
		f.Motor = &motorFile{Inrush: amount(l.InrushFactor), Decay: amount(l.InrushS)}
	case physics.ProfileLoad:
		for _, pt := range l.Profile {
			f.Profile = append(f.Profile, &profilePointFile{When: lastingMS(pt.AtMS), Power: amount(pt.PowerW)})
		}
	}
	return f
}
