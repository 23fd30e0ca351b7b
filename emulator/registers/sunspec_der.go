package registers

import (
	"fmt"
	"math"
)

// The models of the 700 series that tell what a device is set to. What they hold comes from the device's Settings,
// and can only be read here: the bench's devices are set in its site file.

// curvePoints is how many points a stored curve offers at least, as many as the standard curves have.
const curvePoints = 4

// told is the binding of a setting: x in the point's own unit, of which most is the largest to be held and finest
// the power of ten of the last digit that counts. A setting that is not told leaves the point unimplemented.
func told(x, most float64, finest int) binding {
	b := exactly(x, most, finest)
	b.missing = !(x > 0)
	return b
}

// exactly is told for a value of which 0 is one.
func exactly(x, most float64, finest int) binding {
	b := always(x)
	b.most, b.finest = most, finest
	return b
}

// enabled is 1 for a function that the device has, and 0 for one that it does not.
func enabled(has bool) binding {
	if has {
		return always(1)
	}
	return always(0)
}

// lineOrPhase is the nominal voltage as model 702 counts it: between conductors for three phases, to neutral for one.
// The snapshot tells which, by the voltages that are there.
func lineOrPhase(nominalV float64) binding {
	return binding{signal: VoltageL1L2, derive: func(v *Values) float64 {
		if math.IsNaN(v[VoltageL2]) {
			return nominalV
		}
		return math.Sqrt(3) * nominalV
	}, missing: nominalV == 0}
}

// The bits of 702.CtrlModes.
const (
	modeMaxW     = 1 << 0
	modeFixedW   = 1 << 1
	modeVoltVar  = 1 << 4
	modeFreqWatt = 1 << 5
	modeVoltWatt = 1 << 10
	// Low and high voltage trip, low and high frequency trip.
	modeTrips = 1<<7 | 1<<8 | 1<<12 | 1<<13
)

// capacityPoints are model 702. The settings are the ratings: nothing on the bench derates a device.
func capacityPoints(key layoutKey) map[string]binding {
	s, va := &key.settings, key.ratings.ApparentPowerVA
	absorb, inject := 0.0, 0.0
	for i := range s.VoltVar.Count {
		absorb, inject = max(absorb, s.VoltVar.Y[i]), max(inject, -s.VoltVar.Y[i])
	}
	modes := modeMaxW | modeFixedW
	for _, f := range []struct {
		has bool
		bit int
	}{{s.VoltVar.Count > 0, modeVoltVar}, {s.VoltWatt.Count > 0, modeVoltWatt}, {s.Droop.has(), modeFreqWatt}, {s.Trips, modeTrips}} {
		if f.has {
			modes |= f.bit
		}
	}
	points := map[string]binding{"CtrlModes": always(float64(modes))}
	both := func(name, rated string, b binding) { points[name], points[rated] = b, b }
	both("WMax", "WMaxRtg", number(RatedPower))
	both("VAMax", "VAMaxRtg", number(RatedApparentPower))
	both("WChaRteMax", "WChaRteMaxRtg", number(RatedChargePower))
	both("WDisChaRteMax", "WDisChaRteMaxRtg", number(RatedDischargePower))
	both("AMax", "AMaxRtg", number(RatedCurrent))
	both("VNom", "VNomRtg", lineOrPhase(s.NominalV))
	both("VarMaxInj", "VarMaxInjRtg", told(inject*va, max(va, 1), 0))
	both("VarMaxAbs", "VarMaxAbsRtg", told(absorb*va, max(va, 1), 0))
	return points
}

// enterServicePoints are model 703. Permission is the one thing that a controller may give and take.
func enterServicePoints(key layoutKey) map[string]binding {
	e := &key.settings.EnterService
	return map[string]binding{
		"ES":       {signal: Connect, writable: true, high: 1},
		"ESVHi":    told(100*e.HighV, 200, -1),
		"ESVLo":    told(100*e.LowV, 200, -1),
		"ESHzHi":   told(e.HighHz, 100, -2),
		"ESHzLo":   told(e.LowHz, 100, -2),
		"ESDlyTms": told(e.DelayS, 1e6, 0),
		"ESRmpTms": told(e.RampS, 1e6, 0),
	}
}

// curve is models 705 and 706: one stored curve, which is the active one where the device has the function. Value is
// the name of a point's second coordinate, reference the enumeration's value for what it is a share of, and sign the
// direction that it counts.
func curve(c *Characteristic, value string, reference, sign float64) (map[string]binding, map[string]uint16) {
	has := c.Count > 0
	size := max(c.Count, curvePoints)
	points := map[string]binding{
		"Ena": enabled(has), "AdptCrvReq": enabled(has), "AdptCrvRslt": always(1),
		"Crv[1].ActPt": always(float64(c.Count)), "Crv[1].DeptRef": always(reference), "Crv[1].ReadOnly": always(1),
		"Crv[1].RspTms": told(c.ResponseS, 1e5, -1),
	}
	for i := range size {
		v, y := math.NaN(), math.NaN()
		if i < c.Count {
			v, y = 100*c.V[i], 100*sign*c.Y[i]+0
		}
		points[fmt.Sprintf("Crv[1].Pt[%d].V", i+1)] = exactly(v, 200, -2)
		points[fmt.Sprintf("Crv[1].Pt[%d].%s", i+1, value)] = exactly(y, 100, -2)
	}
	return points, map[string]uint16{"NCrv": 1, "NPt": uint16(size)}
}

// voltVarPoints are model 705: shares of the apparent power rating (VA_MAX_PCT), injection positive.
func voltVarPoints(key layoutKey) (map[string]binding, map[string]uint16) {
	points, counts := curve(&key.settings.VoltVar, "Var", 3, -1)
	if key.settings.VoltVar.Count > 0 {
		points["Crv[1].VRef"] = exactly(100, 200, -2)
	}
	return points, counts
}

// voltWattPoints are model 706: the largest injection as a share of the rating (W_MAX_PCT).
func voltWattPoints(key layoutKey) (map[string]binding, map[string]uint16) {
	return curve(&key.settings.VoltWatt, "W", 0, 1)
}

func (d *Droop) has() bool { return d.UnderDroop > 0 || d.OverDroop > 0 }

// droopPoints are model 711, with one stored control.
func droopPoints(key layoutKey) (map[string]binding, map[string]uint16) {
	d := &key.settings.Droop
	points := map[string]binding{
		"Ena": enabled(d.has()), "AdptCtlReq": enabled(d.has()), "AdptCtlRslt": always(1), "Ctl[1].ReadOnly": always(1),
		"Ctl[1].RspTms": told(d.ResponseS, 1e5, -1),
	}
	if d.OverDroop > 0 {
		points["Ctl[1].DbOf"], points["Ctl[1].KOf"] = exactly(d.OverHz, 10, -3), told(d.OverDroop, 1, -4)
	}
	if d.UnderDroop > 0 {
		points["Ctl[1].DbUf"], points["Ctl[1].KUf"] = exactly(d.UnderHz, 10, -3), told(d.UnderDroop, 1, -4)
	}
	return points, map[string]uint16{"NCtl": 1}
}

// portPoints are model 714: a port for the battery, where there is one, and one for PV. The model definition states
// no sign, so that of the options holds. Energies on the DC side are not told.
func portPoints(key layoutKey) (map[string]binding, map[string]uint16) {
	current := binding{signal: DCCurrent, sign: byChoice}
	power := binding{signal: BatteryPower, sign: byChoice}
	totalA, totalW := current, power
	totalA.derive, totalW.derive = dcCurrentInto, dcPowerInto
	points := map[string]binding{"PrtAlrms": always(0), "DCA": totalA, "DCW": totalW}
	ports := 0
	port := func(kind float64, name string, add map[string]binding) {
		ports++
		prefix := fmt.Sprintf("Prt[%d].", ports)
		points[prefix+"PrtTyp"], points[prefix+"ID"] = always(kind), always(float64(ports))
		points[prefix+"IDStr"] = binding{signal: NoSignal, fixedText: name}
		points[prefix+"DCAlrm"] = always(0)
		for n, b := range add {
			points[prefix+n] = b
		}
	}
	if key.ratings.CapacityWh > 0 {
		port(1, "battery", map[string]binding{
			"DCA": flow(BatteryCurrent), "DCV": number(BatteryVoltage), "DCW": flow(BatteryPower), "Tmp": number(Temperature),
			"DCSta": computed(onOff),
		})
	}
	if key.settings.HasPV || key.ratings.CapacityWh == 0 {
		pv := binding{signal: BatteryPower, sign: byChoice, derive: func(v *Values) float64 { return -v[DCPower] }}
		port(0, "pv", map[string]binding{"DCW": pv, "DCSta": computed(func(v *Values) float64 {
			if v[DCPower] > 0 {
				return 1
			}
			return v[DCPower]
		})})
	}
	return points, map[string]uint16{"NPrt": uint16(ports)}
}
