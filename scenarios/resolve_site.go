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
		FuseMelts: yesIf(p.Supply.FuseMelts), FusePlace: amountUnless0(p.Supply.FusePosition),
	}
	if p.Supply.NeutralOhm != 0 || p.Supply.NeutralXOhm != 0 {
		sup.Neutral = &impedanceFile{Resistance: amount(p.Supply.NeutralOhm), Reactance: amount(p.Supply.NeutralXOhm)}
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
			at.Meters = append(at.Meters, entry[meterFile]{Name: d.Name, Value: meterFileOf(p.Meters[d.Index], p.Phases, wire)})
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

func meterFileOf(m physics.MeterParams, phases int, wire *wireFile) meterFile {
	f := meterFile{
		Phases: phasesWords(m.Phases), Orientation: onOff(m.Reversed, "reversed", "right"),
		Refresh: amount(m.RefreshS), Phase: amount(m.PhaseS), Latency: amount(m.LatencyS), Offset: amount(m.OffsetW),
		GainError: amount(m.GainError), Noise: amount(m.NoiseW), Resolution: amount(m.ResolutionW), Wire: wire,
	}
	if m.Class != nil {
		f.Class = wordFor(meterClasses, *m.Class)
	}
	if m.CTClass != nil {
		f.CTClass = wordFor(ctClasses, *m.CTClass)
	}
	if m.PerPhase {
		f.Registers = words("per phase")
	}
	if m.CTs != nil {
		f.CTs = &ctsFile{}
		for k, into := range []**ctFile{&f.CTs.L1, &f.CTs.L2, &f.CTs.L3}[:phases] {
			ct := m.CTs[k]
			*into = &ctFile{
				Clasps: onOff(ct.Clasps == physics.AllPhases, "none", ct.Clasps.String()), Orientation: onOff(ct.Reversed, "reversed", "right"),
				RatioError: amount(ct.GainError), Displacement: amount(ct.PhaseMinutes),
			}
		}
	}
	return f
}

func deviceFileOf(p *physics.Site, d Device, wire *wireFile) deviceFile {
	f := deviceFile{Wire: wire}
	switch d.Kind {
	case Inverter:
		f.Inverter = inverterFileOf(p, p.Inverters[d.Index])
	case Array:
		f.Array = arrayFileOf(p, p.Arrays[d.Index])
	case Load:
		f.Load = loadFileOf(p.Loads[d.Index])
	case Charger:
		f.Charger = chargerFileOf(p, p.Chargers[d.Index])
	case Tariff:
		f.Tariff = &tariffFile{}
	}
	return f
}
