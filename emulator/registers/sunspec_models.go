package registers

import (
	"maps"
	"math"
)

// bindingsOf returns the bindings of a model's points by name, and how often each group repeats by the name of its
// count. A point that is not among them reads as unimplemented.
func bindingsOf(model uint16, key layoutKey) (points map[string]binding, counts map[string]uint16) {
	switch model {
	case 1:
		return commonPoints, nil
	case 101, 102, 103, 111, 112, 113:
		return inverterPoints, nil
	case 120:
		return with(nameplatePoints, map[string]binding{"AhrRtg": told(key.settings.ChargeAh, 2*key.settings.ChargeAh, -1)}), nil
	case 121:
		return settingPoints(key), nil
	case 122:
		return statusPoints, nil
	case 123:
		return controlPoints, nil
	case 124:
		return with(storagePoints, storageSettings(key)), nil
	case 201, 202, 203, 204, 211, 212, 213, 214:
		return meterPoints, nil
	case 701:
		return derMeasurePoints, nil
	case 702:
		return capacityPoints(key), nil
	case 703:
		return enterServicePoints(key), nil
	case 704:
		return with(derControlPoints, map[string]binding{"WRmp": told(share(key.settings.RampWps, key.ratings.PowerW), 1000, 0)}), nil
	case 705:
		return voltVarPoints(key)
	case 706:
		return voltWattPoints(key)
	case 711:
		return droopPoints(key)
	case 713:
		return derStoragePoints, nil
	case 714:
		return portPoints(key)
	case 802:
		return with(batteryPoints, map[string]binding{"AHRtg": told(key.settings.ChargeAh, 2*key.settings.ChargeAh, -1)}), nil
	}
	return nil, nil
}

// with is one set of bindings and another.
func with(points, more map[string]binding) map[string]binding {
	all := maps.Clone(points)
	maps.Copy(all, more)
	return all
}

// share is a part in percent of a whole; NaN where the whole is not known.
func share(part, whole float64) float64 {
	if whole == 0 {
		return math.NaN()
	}
	return 100 * part / whole
}

var commonPoints = map[string]binding{
	"Mn": {text: MakerText},
	"Md": {text: ModelText},
	"Vr": {text: VersionText},
	"SN": {text: SerialText},
	"DA": {signal: NoSignal, showsUnit: true},
}

var inverterPoints = map[string]binding{
	"A":       magnitude(ACCurrent),
	"AphA":    magnitude(ACCurrentL1),
	"AphB":    magnitude(ACCurrentL2),
	"AphC":    magnitude(ACCurrentL3),
	"PPVphAB": number(VoltageL1L2),
	"PPVphBC": number(VoltageL2L3),
	"PPVphCA": number(VoltageL3L1),
	"PhVphA":  number(VoltageL1),
	"PhVphB":  number(VoltageL2),
	"PhVphC":  number(VoltageL3),
	"W":       flow(ACPower),
	"Hz":      number(Frequency),
	"VA":      number(ApparentPower),
	"VAr":     flow(ReactivePower),
	"PF":      {signal: PowerFactor, derive: powerFactor, sign: byChoice, measure: percent},
	"WH":      total(EnergyExported),
	"DCA":     {signal: DCCurrent, derive: dcCurrentInto, magnitude: true},
	"DCV":     {signal: DCVoltage, derive: dcVoltage},
	"DCW":     {signal: BatteryPower, derive: dcPowerInto, sign: byChoice},
	"TmpCab":  number(Temperature),
	"St":      number(OperatingState),
	"Evt1":    always(0),
	"Evt2":    always(0),
}

var nameplatePoints = map[string]binding{
	"DERTyp":       computed(derType),
	"WRtg":         number(RatedPower),
	"VARtg":        number(RatedApparentPower),
	"ARtg":         number(RatedCurrent),
	"WHRtg":        number(UsableCapacity),
	"MaxChaRte":    number(RatedChargePower),
	"MaxDisChaRte": number(RatedDischargePower),
}

// settingPoints are model 121.
func settingPoints(key layoutKey) map[string]binding {
	nominalV := key.settings.NominalV
	if nominalV == 0 {
		nominalV = 230
	}
	return map[string]binding{
		"WMax":     number(RatedPower),
		"VRef":     exactly(nominalV, 1000, -1),
		"VRefOfs":  exactly(0, 1000, -1),
		"VAMax":    number(RatedApparentPower),
		"WGra":     told(share(key.settings.RampWps, key.ratings.PowerW), 1000, -1),
		"ECPNomHz": told(key.settings.NominalHz, 100, -2),
	}
}

var statusPoints = map[string]binding{
	"PVConn":   computed(func(v *Values) float64 { return connection(v[DCPower]) }),
	"StorConn": computed(func(v *Values) float64 { return connection(v[BatteryPower]) }),
	"ECPConn":  computed(connected),
	"ActWh":    total(EnergyExported),
	"StActCtl": computed(activeControls),
	"Tms":      {signal: UnixTime, derive: secondsSince2000, counter: true},
}

var controlPoints = map[string]binding{
	"Conn_WinTms":        accepted(0),
	"Conn_RvrtTms":       {signal: ConnectReversionTime, writable: true},
	"Conn":               {signal: Connect, writable: true, high: 1, timer: "Conn_RvrtTms"},
	"WMaxLimPct":         {signal: OutputLimit, writable: true, high: 100, measure: percent, enable: "WMaxLim_Ena", mask: 1, timer: "WMaxLimPct_RvrtTms"},
	"WMaxLimPct_WinTms":  accepted(0),
	"WMaxLimPct_RvrtTms": {signal: OutputReversionTime, writable: true},
	"WMaxLimPct_RmpTms":  accepted(0),
	"WMaxLim_Ena":        choice(1),
	// Power factor and reactive power are not commanded here: their controls can only stay disabled.
	"OutPFSet_Ena": accepted(0),
	"VArPct_Ena":   accepted(0),
}

var storagePoints = map[string]binding{
	"WChaMax":           number(RatedChargePower),
	"StorCtl_Mod":       choice(3),
	"MinRsvPct":         {signal: Reserve, writable: true, high: 100, measure: percent},
	"ChaState":          number(SOC).inPercent(),
	"InBatV":            number(BatteryVoltage),
	"ChaSt":             number(ChargeState),
	"OutWRte":           {signal: DischargeLimit, writable: true, low: -100, high: 100, measure: percentDischarge, enable: "StorCtl_Mod", mask: 2, timer: "InOutWRte_RvrtTms"},
	"InWRte":            {signal: ChargeLimit, writable: true, low: -100, high: 100, measure: percentCharge, enable: "StorCtl_Mod", mask: 1, timer: "InOutWRte_RvrtTms"},
	"InOutWRte_WinTms":  accepted(0),
	"InOutWRte_RvrtTms": {signal: ReversionTime, writable: true},
	"InOutWRte_RmpTms":  accepted(0),
	"ChaGriSet":         accepted(1),
}

// storageSettings are the points of model 124 that follow from the settings.
func storageSettings(key layoutKey) map[string]binding {
	ah := key.settings.ChargeAh
	ramp := told(share(key.settings.RampWps, key.ratings.ChargePowerW), 1000, -1)
	available := told(ah, ah, -1)
	available.derive = func(v *Values) float64 { return max(0, v[SOC]-v[ReserveSOC]) * ah }
	return map[string]binding{"WChaGra": ramp, "WDisChaGra": ramp, "StorAval": available}
}

var meterPoints = map[string]binding{
	"A":        magnitude(ACCurrent),
	"AphA":     magnitude(ACCurrentL1),
	"AphB":     magnitude(ACCurrentL2),
	"AphC":     magnitude(ACCurrentL3),
	"PhV":      {signal: VoltageL1, derive: phaseVoltage},
	"PhVphA":   number(VoltageL1),
	"PhVphB":   number(VoltageL2),
	"PhVphC":   number(VoltageL3),
	"PPV":      {signal: VoltageL1L2, derive: lineVoltage},
	"PhVphAB":  number(VoltageL1L2),
	"PhVphBC":  number(VoltageL2L3),
	"PhVphCA":  number(VoltageL3L1),
	"PPVphAB":  number(VoltageL1L2),
	"PPVphBC":  number(VoltageL2L3),
	"PPVphCA":  number(VoltageL3L1),
	"Hz":       number(Frequency),
	"W":        flow(ACPower),
	"WphA":     flow(ACPowerL1),
	"WphB":     flow(ACPowerL2),
	"WphC":     flow(ACPowerL3),
	"VA":       number(ApparentPower),
	"VAR":      flow(ReactivePower),
	"PF":       {signal: PowerFactor, derive: powerFactor, sign: byChoice, measure: percent},
	"TotWhExp": total(EnergyExported),
	"TotWhImp": total(EnergyImported),
	"Evt":      always(0),
}

var derMeasurePoints = map[string]binding{
	"ACType":   computed(wiring),
	"St":       computed(onOff),
	"InvSt":    computed(func(v *Values) float64 { return v[OperatingState] - 1 }),
	"ConnSt":   computed(connected),
	"Alrm":     always(0),
	"W":        flow(ACPower).positiveOutOf(),
	"VA":       number(ApparentPower),
	"Var":      flow(ReactivePower).positiveOutOf(),
	"PF":       {signal: PowerFactor, derive: powerFactor, sign: outOf},
	"A":        magnitude(ACCurrent),
	"LLV":      {signal: VoltageL1L2, derive: lineVoltage},
	"LNV":      {signal: VoltageL1, derive: phaseVoltage},
	"Hz":       number(Frequency),
	"TotWhInj": total(EnergyExported),
	"TotWhAbs": total(EnergyImported),
	"TmpCab":   number(Temperature),
	"WL1":      flow(ACPowerL1).positiveOutOf(),
	"AL1":      magnitude(ACCurrentL1),
	"VL1L2":    number(VoltageL1L2),
	"VL1":      number(VoltageL1),
	"WL2":      flow(ACPowerL2).positiveOutOf(),
	"AL2":      magnitude(ACCurrentL2),
	"VL2L3":    number(VoltageL2L3),
	"VL2":      number(VoltageL2),
	"WL3":      flow(ACPowerL3).positiveOutOf(),
	"AL3":      magnitude(ACCurrentL3),
	"VL3L1":    number(VoltageL3L1),
	"VL3":      number(VoltageL3),
}

// derControlPoints are model 704. WSetEna is a command of its own, since it takes the device from its native loop to
// the set point and back; WSetMod chooses between watts and percent. Each command falls back by its reversion points.
var derControlPoints = map[string]binding{
	"PFWInjEna":     accepted(0),
	"PFWAbsEna":     accepted(0),
	"WMaxLimPctEna": choice(1),
	"WMaxLimPct": {signal: OutputLimit, writable: true, high: 100, measure: percent, enable: "WMaxLimPctEna", mask: 1,
		timer: "WMaxLimPctRvrtTms", reverts: "WMaxLimPctRvrt", revertsIf: "WMaxLimPctEnaRvrt"},
	"WMaxLimPctRvrt":    {signal: NoSignal, writable: true, high: 100, measure: percent},
	"WMaxLimPctEnaRvrt": choice(1),
	"WMaxLimPctRvrtTms": {signal: OutputReversionTime, writable: true},
	"WMaxLimPctRvrtRem": number(OutputReversionLeft),
	"WSetEna": {signal: Mode, writable: true, words: []Word{{0, "self-consumption", ModeSelfConsumption}, {1, "setpoint", ModeSetpoint}},
		timer: "WSetRvrtTms", reverts: "WSetEnaRvrt", revertsIf: "WSetEnaRvrt"},
	"WSetMod": {signal: NoSignal, writable: true, high: 1, opening: setInWatts},
	"WSet": {signal: Setpoint, writable: true, sign: outOf, enable: "WSetEna", mask: 1, also: "WSetMod", alsoRaw: setInWatts,
		timer: "WSetRvrtTms", reverts: "WSetRvrt", revertsIf: "WSetEnaRvrt"},
	"WSetRvrt": {signal: NoSignal, writable: true, free: true},
	"WSetPct": {signal: Setpoint, writable: true, sign: outOf, measure: percentPower, low: -100, high: 100, enable: "WSetEna", mask: 1,
		also: "WSetMod", alsoRaw: setInPercent, timer: "WSetRvrtTms", reverts: "WSetPctRvrt", revertsIf: "WSetEnaRvrt"},
	"WSetPctRvrt": {signal: NoSignal, writable: true, measure: percentPower, low: -100, high: 100},
	"WSetEnaRvrt": choice(1),
	"WSetRvrtTms": {signal: ReversionTime, writable: true},
	"WSetRvrtRem": number(ReversionLeft),
	"VarSetEna":   accepted(0),
}

// The values of 704.WSetMod.
const (
	setInPercent = 0
	setInWatts   = 1
)

var derStoragePoints = map[string]binding{
	"WHRtg":   number(UsableCapacity),
	"WHAvail": {signal: UsableCapacity, derive: availableEnergy},
	"SoC":     number(SOC).inPercent(),
	"SoH":     {signal: SOH, derive: health, measure: percent},
	"Sta":     always(0),
}

var batteryPoints = map[string]binding{
	"WHRtg":         number(UsableCapacity),
	"WChaRteMax":    number(RatedChargePower),
	"WDisChaRteMax": number(RatedDischargePower),
	"SoCMax":        {signal: SOC, derive: func(*Values) float64 { return 1 }, measure: percent},
	"SoCMin":        {signal: SOC, derive: func(*Values) float64 { return 0 }, measure: percent},
	"SoCRsvMin":     number(ReserveSOC).inPercent(),
	"SoC":           number(SOC).inPercent(),
	"SoH":           {signal: SOH, derive: health, measure: percent},
	"ChaSt":         number(ChargeState),
	"LocRemCtl":     always(0),
	"Hb":            {signal: NoSignal, derive: heartbeat, counter: true},
	"AlmRst":        accepted(0),
	"Typ":           always(4),
	"State":         computed(bankState),
	"Evt1":          always(0),
	"Evt2":          always(0),
	"EvtVnd1":       always(0),
	"EvtVnd2":       always(0),
	"V":             number(BatteryVoltage),
	"A":             flow(BatteryCurrent),
	"W":             flow(BatteryPower),
	"SetOp":         accepted(1),
	"SetInvState":   accepted(3),
}

// powerFactor is W / VA with the sign of W, unless the snapshot tells it.
func powerFactor(v *Values) float64 {
	if !math.IsNaN(v[PowerFactor]) {
		return v[PowerFactor]
	}
	if v[ApparentPower] == 0 {
		return math.NaN()
	}
	return v[ACPower] / v[ApparentPower]
}

// dcPowerInto is what flows from the AC side to the DC side: what the battery takes less what PV gives.
func dcPowerInto(v *Values) float64 {
	switch {
	case math.IsNaN(v[DCPower]):
		return v[BatteryPower]
	case math.IsNaN(v[BatteryPower]):
		return -v[DCPower]
	}
	return v[BatteryPower] - v[DCPower]
}

// dcVoltage is the battery's where the snapshot has none of the DC side as a whole.
func dcVoltage(v *Values) float64 {
	if math.IsNaN(v[DCVoltage]) {
		return v[BatteryVoltage]
	}
	return v[DCVoltage]
}

// dcCurrentInto goes with dcPowerInto at that voltage.
func dcCurrentInto(v *Values) float64 {
	if !math.IsNaN(v[DCCurrent]) {
		return v[DCCurrent]
	}
	return dcPowerInto(v) / dcVoltage(v)
}

// activeControls is the bit for a fixed limit of active power while one holds.
func activeControls(v *Values) float64 {
	switch {
	case math.IsNaN(v[OutputLimit]):
		return v[OutputLimit]
	case v[OutputLimit] < 1:
		return 1
	}
	return 0
}

func phaseVoltage(v *Values) float64 { return meanKnown(v[VoltageL1 : VoltageL3+1]) }

func lineVoltage(v *Values) float64 { return meanKnown(v[VoltageL1L2 : VoltageL3L1+1]) }

// meanKnown is the mean of the values that are known.
func meanKnown(values []float64) float64 {
	sum, count := 0.0, 0.0
	for _, x := range values {
		if !math.IsNaN(x) {
			sum += x
			count++
		}
	}
	return sum / count
}

// derType is 82, PV with storage, or 4, PV alone.
func derType(v *Values) float64 {
	if math.IsNaN(v[SOC]) {
		return 4
	}
	return 82
}

// connection is the bits connected, available and, while power flows, operating.
func connection(powerW float64) float64 {
	switch {
	case math.IsNaN(powerW):
		return powerW
	case powerW == 0:
		return 3
	}
	return 7
}

func connected(v *Values) float64 {
	if v[Connect] == 0 {
		return 0
	}
	return 1
}

// secondsSince2000 counts from 2000-01-01 00:00 UTC, as model 122 does.
func secondsSince2000(v *Values) float64 { return v[UnixTime] - 946684800 }

// wiring is 2 for three phases and 0 for one.
func wiring(v *Values) float64 {
	if math.IsNaN(v[VoltageL2]) {
		return 0
	}
	return 2
}

func onOff(v *Values) float64 {
	switch v[OperatingState] {
	case StateRunning, StateThrottled:
		return 1
	}
	return v[OperatingState] * 0
}

// health takes a battery whose state of health is not modelled as new.
func health(v *Values) float64 {
	if math.IsNaN(v[SOH]) && !math.IsNaN(v[SOC]) {
		return 1
	}
	return v[SOH]
}

// availableEnergy is rating x state of charge x state of health, the identity that model 713 states.
func availableEnergy(v *Values) float64 { return v[UsableCapacity] * v[SOC] * health(v) }

// heartbeat counts seconds.
func heartbeat(v *Values) float64 { return v[TimeMS] / 1000 }

// bankState is connected while the inverter is, standby while it stands by, and fault with it.
func bankState(v *Values) float64 {
	switch v[OperatingState] {
	case StateFault:
		return 99
	case StateStandby, StateSleeping:
		return 4
	case StateOff:
		return 1
	}
	return 3
}
