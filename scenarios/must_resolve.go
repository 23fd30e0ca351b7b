package scenarios

// mustFileOf shows what must hold in the words of the file.
func mustFileOf(m Must) *mustFile {
	f := &mustFile{Import: flowFileOf(m.Import), Export: flowFileOf(m.Export), AvoidableImport: avoidableFileOf(m.AvoidableImport), AvoidableExport: avoidableFileOf(m.AvoidableExport)}
	if s := m.Settle; s != nil {
		f.Settle = &settleFile{Band: amount(s.BandW), Within: lasting(s.Within), Overshoot: amountIf(s.OvershootW)}
	}
	if h := m.Hunting; h != nil {
		f.Hunting = &huntingFile{Below: amount(h.BelowW), GoneWithin: lasting(h.GoneWithin)}
	}
	if c := m.Circulating; c != nil {
		f.Circulating = &circulatingFile{Below: amount(c.BelowW), Except: lasting(c.Except), Energy: amountIf(c.EnergyWh)}
		if c.Episode != nil {
			f.Circulating.Episode = lasting(*c.Episode)
		}
	}
	if s := m.SOCSpread; s != nil {
		f.SOCSpread = &spreadFile{Below: amount(s.Below), From: lasting(s.From)}
	}
	if r := m.Reserve; r != nil {
		f.Reserve = &reserveFile{Below: amount(r.Below), Except: lasting(r.Except)}
	}
	if c := m.SupplyCurrent; c != nil {
		f.SupplyCurrent = &supplyCurrentFile{Below: amountUnless0(c.BelowA), Except: lasting(c.Except)}
	}
	if h := m.FuseHeating; h != nil {
		f.FuseHeating = &fuseHeatingFile{Below: amount(h.Below)}
	}
	if s := m.Schedule; s != nil {
		f.Schedule = &scheduleFile{
			Target: amount(s.Target), Missing: amount(s.Missing), ImportBelow: amountUnless0(s.ImportBelowW), Efficiency: amountUnless0(s.Efficiency),
		}
		if s.During != nil {
			f.Schedule.During = windowWords(*s.During)
		}
	}
	if w := m.Wear; w != nil {
		f.Wear = &wearFile{Cycles: amountIf(w.CyclesPerDay), Reversals: amountIf(w.ReversalsPerHour), ModeFlips: amountIf(w.ModeFlipsPerHour)}
	}
	if c := m.CommandEconomy; c != nil {
		f.CommandEconomy = &commandEconomyFile{Writes: amountIf(c.WritesPerHour), Gap: lastingUnless0(c.Gap)}
	}
	if w := m.WireManners; w != nil {
		f.WireManners = &wireMannersFile{
			Exceptions: said(uint64(w.Exceptions)), Illegal: said(uint64(w.Illegal)), Forbidden: said(uint64(w.Forbidden)),
			Reads: amountUnless0(w.ReadsPerS), Over: lasting(w.Over),
		}
	}
	if s := m.FailSafe; s != nil {
		f.FailSafe = &failSafeFile{Below: amount(s.BelowW), Within: lasting(s.Within), Native: words("no")}
		if s.NativeIsSafe {
			f.FailSafe.Native = onOff(s.NarrowedIsSafe, "narrowed", "yes")
		}
	}
	if r := m.Recovery; r != nil {
		f.Recovery = &recoveryFile{Band: amount(r.BandW), Within: lasting(r.Within), Hold: lasting(r.Hold)}
	}
	if r := m.Reversion; r != nil {
		f.Reversion = &reversionFile{Within: lasting(r.Within)}
		if r.Untimed != nil {
			f.Reversion.Untimed = said(uint64(*r.Untimed))
		}
	}
	f.Formula = formulasFileOf(m.Formulas)
	return f
}

func flowFileOf(b *Flow) *flowFile {
	if b == nil {
		return nil
	}
	return &flowFile{Below: amount(b.BelowW), Except: lasting(b.Except), Energy: amountIf(b.EnergyWh)}
}

func avoidableFileOf(a *AvoidableEnergy) *avoidableFile {
	if a == nil {
		return nil
	}
	return &avoidableFile{Below: amount(a.BelowWh)}
}

// amountIf is a bound that may be absent.
func amountIf(v *float64) quantity {
	if v == nil {
		return quantity{}
	}
	return amount(*v)
}
