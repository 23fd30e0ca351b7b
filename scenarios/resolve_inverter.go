package scenarios

import "kilter/physics"

func inverterFileOf(p *physics.Site, v physics.InverterParams) *inverterFile {
	f := &inverterFile{
		Phases: phasesWords(v.Phases), Rating: amount(v.RatingW), Efficiency: amount(v.Efficiency), DeadTime: amount(v.DeadTimeS),
		RampUp: amountUnless0(v.RampUpWps), RampDown: amountUnless0(v.RampDownWps), Lag: amount(v.LagS),
		Reconnect: amount(v.ReconnectS), CommandLife: amountUnless0(v.CommandLifeS),
		Own: amountUnless0(v.SelfConsumptionW), Standby: amountUnless0(v.StandbyW), Resolution: amountUnless0(v.ResolutionW),
		Smallest: amountUnless0(v.MinimumW), Changeover: amountUnless0(v.ChangeoverS),
		Answers: answersFileOf(v.Response), Initial: amountUnless0(v.InitialW), Battery: batteryFileOf(v.Battery),
	}
	switch v.EfficiencyForm {
	case physics.PartLoadEfficiency:
		f.Form = words("part load")
	case physics.SandiaEfficiency:
		s := v.Sandia
		f.Sandia = &sandiaFile{
			RatedAC: amount(s.RatedACW), RatedDC: amount(s.RatedDCW), RatedV: amount(s.RatedV), Start: amount(s.StartW),
			C0: amount(s.C0), C1: amount(s.C1), C2: amount(s.C2), C3: amount(s.C3), Night: amount(s.NightW),
		}
	}
	for _, w := range v.Timed {
		t := &timedFile{From: msWords(w.FromMS), To: msWords(w.ToMS)}
		if w.PowerW < 0 {
			t.Discharge = amount(-w.PowerW)
		} else {
			t.Charge = amount(w.PowerW)
		}
		f.Timed = append(f.Timed, t)
	}
	if b := v.Backup; b != nil {
		f.Backup = &backupFile{
			Feeder: words(p.Feeders[b.Feeder].Name), Changeover: amount(b.ChangeoverS),
			Overload: amount(b.OverloadBy), Bears: amount(b.OverloadS),
		}
	}
	if l := v.Loop; l.Meter >= 0 {
		f.Loop = &loopFile{
			Follows: words(p.Meters[l.Meter].Name), Gain: amount(l.Gain), Period: amount(l.PeriodS), Phase: amount(l.PhaseS),
			Target: amount(l.TargetW), Deadband: amount(l.DeadbandW), Leak: amount(l.Leak), Windup: yesIf(l.Windup),
		}
		if l.Form != physics.Integrating {
			f.Loop.Form = wordFor(loopForms, l.Form)
		}
		if l.Deadband != physics.WholeError {
			f.Loop.Beyond = wordFor(deadbands, l.Deadband)
		}
	}
	return f
}

func batteryFileOf(b physics.BatteryParams) *batteryFile {
	f := &batteryFile{
		Capacity: amount(b.CapacityWh), ChargeEfficiency: amount(b.ChargeEfficiency), DischargeEfficiency: amount(b.DischargeEfficiency),
		MaxCharge: amount(b.MaxChargeW), MaxDischarge: amount(b.MaxDischargeW), SOC: amount(b.InitialSOC), Reserve: amount(b.ReserveSOC),
		TaperAbove: amount(b.TaperAboveSOC), TaperBelow: amount(b.TaperBelowSOC), Standby: amountUnless0(b.StandbyW),
	}
	if c := b.Cell; c != nil {
		f.Cell = &cellFile{
			OpenCircuit: list[*ocvPointFile]{}, Capacity: amount(c.CapacityAh), R0: amount(c.R0Ohm), R1: amount(c.R1Ohm), C1: amountUnless0(c.C1F),
			Max: amount(c.MaxV), Min: amount(c.MinV), MaxCharge: amount(c.MaxChargeA), MaxDischarge: amount(c.MaxDischA), Cutoff: amount(c.CutoffA),
			Series: said(uint64(c.Series)), Parallel: said(uint64(c.Parallel)),
		}
		for _, q := range c.OCV {
			f.Cell.OpenCircuit = append(f.Cell.OpenCircuit, &ocvPointFile{SOC: amount(q.X), Voltage: amount(q.Y)})
		}
	}
	if t := b.Thermal; t != nil {
		f.Thermal = &thermalFile{
			Heat: amount(t.CapacityJpK), Resistance: amount(t.ResistanceKpW), Ambient: amount(t.AmbientC), Initial: amount(t.InitialC),
			Charge: deratingFileOf(t.Derating.Charge), Discharge: deratingFileOf(t.Derating.Discharge),
		}
	}
	if r := b.Report; r != nil {
		f.Reported = &reportedFile{
			Resolution: amount(r.Resolution), Lag: amount(r.LagS), GainError: amount(r.GainError), Error: amount(r.InitialError),
			High: amountUnless0(r.RecalibrateHigh), Low: amountUnless0(r.RecalibrateLow),
		}
	}
	return f
}

func deratingFileOf(c physics.Curve) (l list[*deratingPointFile]) {
	for _, q := range c {
		l = append(l, &deratingPointFile{Temp: amount(q.X), Share: amount(q.Y)})
	}
	return l
}

// answersFileOf shows every curve and table in points, so that what was published
// when the run was made is what it is repeated with.
func answersFileOf(r *physics.ResponseParams) *answersFile {
	if r == nil {
		return nil
	}
	f := &answersFile{}
	if r.VoltWatt != nil {
		f.VoltWatt = &voltWattFile{Curve: &voltWattCurve{}, Response: amount(r.VoltWattResponseS)}
		for _, q := range r.VoltWatt {
			f.VoltWatt.Curve.Points = append(f.VoltWatt.Curve.Points, &voltWattPoint{OfNominal: amount(q.X), Power: amount(q.Y)})
		}
	}
	if r.VoltVar != nil {
		f.VoltVar = &voltVarFile{Curve: &voltVarCurve{}, Response: amount(r.VoltVarResponseS)}
		for _, q := range r.VoltVar {
			f.VoltVar.Curve.Points = append(f.VoltVar.Curve.Points, &voltVarPoint{OfNominal: amount(q.X), Reactive: amount(q.Y)})
		}
	}
	if q := r.Frequency; q != (physics.FrequencyParams{}) {
		f.Frequency = &frequencyFile{
			Over: amountUnless0(q.Droop.OverHz), OverDroop: amountUnless0(q.Droop.OverDroop),
			Under: amountUnless0(q.Droop.UnderHz), UnderDroop: amountUnless0(q.Droop.UnderDroop), Nominal: amount(q.Droop.NominalHz),
			Reference: amountUnless0(q.RatingW), Delay: amount(q.DelayS), Response: amount(q.ResponseS),
			Hold: onOff(q.Hold, "yes", "no"), Release: amount(q.ReleaseS),
		}
	}
	if r.Trips != nil {
		f.Protection = &protectionFile{}
	}
	for _, t := range r.Trips {
		s := &stageFile{Delay: amount(t.DelayS)}
		*map[physics.TripKind]*quantity{
			physics.UnderVoltage: &s.UnderV, physics.OverVoltage: &s.OverV, physics.UnderFrequency: &s.UnderF, physics.OverFrequency: &s.OverF,
		}[t.Kind] = amount(t.Threshold)
		f.Protection.Stages = append(f.Protection.Stages, s)
	}
	if e := r.Enter; e != (physics.EnterServiceParams{}) {
		f.Reconnection = &reconnectFile{
			Voltage: span{low: e.LowV, high: e.HighV, set: true}, Frequency: span{low: e.LowHz, high: e.HighHz, set: true},
			Delay: amount(e.DelayS), Ramp: amountUnless0(e.RampPerS),
		}
	}
	return f
}
