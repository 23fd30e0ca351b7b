package physics

import "math"

// CTClass is an accuracy class of a measuring current transformer.
type CTClass uint8

// Classes of IEC 61869-2. S marks a class that is good from 1 % of the rated current on.
const (
	CTClass02 CTClass = iota
	CTClass05
	CTClass05S
	CTClass1
	CTClass3
	CTClass5
)

// ctLimit is one column of the table: limits at a current in percent of the rated one.
type ctLimit struct{ percent, ratio, minutes float64 }

// ctLimits: IEC 61869-2 table 201 and its neighbours; check values CT-01 to CT-05.
var ctLimits = [...][]ctLimit{
	CTClass02:  {{5, 0.75, 30}, {20, 0.35, 15}, {100, 0.2, 10}, {120, 0.2, 10}},
	CTClass05:  {{5, 1.5, 90}, {20, 0.75, 45}, {100, 0.5, 30}, {120, 0.5, 30}},
	CTClass05S: {{1, 1.5, 90}, {5, 0.75, 45}, {20, 0.5, 30}, {100, 0.5, 30}, {120, 0.5, 30}},
	CTClass1:   {{5, 3.0, 180}, {20, 1.5, 90}, {100, 1.0, 60}, {120, 1.0, 60}},
	CTClass3:   {{50, 3, math.MaxFloat64}, {120, 3, math.MaxFloat64}},
	CTClass5:   {{50, 5, math.MaxFloat64}, {120, 5, math.MaxFloat64}},
}

// CTErrorLimit is the largest ratio error [%] and phase displacement [minutes of arc], either sign,
// of a class at a current [% of the rated one]. The standard limits them at certain currents;
// between those the limit is interpolated in a straight line (common practice, no source). +Inf
// means no limit: outside the table, and for the phase of classes 3 and 5. Source: IEC 61869-2
// table 201 (secondary); check values CT-01 to CT-05.
func CTErrorLimit(c CTClass, currentPercent float64) (ratioPercent, phaseMinutes float64) {
	t := ctLimits[c]
	last := len(t) - 1
	if !(currentPercent >= t[0].percent && currentPercent <= t[last].percent) {
		return math.Inf(1), math.Inf(1)
	}
	i := 0
	for i < last-1 && currentPercent >= t[i+1].percent {
		i++
	}
	a, b := &t[i], &t[i+1]
	share := (currentPercent - a.percent) / (b.percent - a.percent)
	ratioPercent = a.ratio + float64((b.ratio-a.ratio)*share)
	phaseMinutes = a.minutes + float64((b.minutes-a.minutes)*share)
	if a.minutes == math.MaxFloat64 {
		phaseMinutes = math.Inf(1)
	}
	return ratioPercent, phaseMinutes
}

// RatioErrorPercent is (Kn Is - Ip) / Ip x 100 %, with Kn the rated ratio, and Is, Ip the secondary
// and primary current [A]. Source: IEC 61869-2; check value CT-06.
func RatioErrorPercent(ratedRatio, secondaryA, primaryA float64) float64 {
	return (float64(ratedRatio*secondaryA) - primaryA) / primaryA * 100
}

// PhaseErrorOfPower is the relative error of a measured active power [1] that a phase displacement
// [minutes of arc] makes at a load angle phi [deg]: cos(phi - delta) / cos(phi) - 1. phi is
// positive for a current that lags, delta for a secondary current that leads. Check value CT-07.
func PhaseErrorOfPower(displacementMinutes, angleDeg float64) float64 {
	return cosDeg(angleDeg-displacementMinutes/60)/cosDeg(angleDeg) - 1
}

// MeterClass is an accuracy class of an active-energy meter.
type MeterClass uint8

// Classes: 1 and 2 of IEC 62053-21 for direct connection (its In is the basic current), 0.5 S of IEC
// 62053-22 for connection through transformers.
const (
	MeterClass1 MeterClass = iota
	MeterClass05S
	MeterClass2
)

// MeterErrorLimit is the largest percentage error, either sign, of a class at a current [multiple
// of In] and unity power factor, or, inductive, at 0.5. +Inf means no limit. Source: IEC
// 62053-21:2003 table 6 and IEC 62053-22:2003 table 4, from memory: not to be used as a limit to
// judge by (check values CT-08 and CT-09).
func MeterErrorLimit(c MeterClass, current float64, halfInductive bool) float64 {
	// The first current from which each of the two limits holds, and those.
	var wide, tight, wideLimit, tightLimit float64
	switch {
	case c == MeterClass1 && !halfInductive:
		wide, tight, wideLimit, tightLimit = 0.05, 0.1, 1.5, 1.0
	case c == MeterClass2 && !halfInductive:
		wide, tight, wideLimit, tightLimit = 0.05, 0.1, 2.5, 2.0
	case c == MeterClass2:
		wide, tight, wideLimit, tightLimit = 0.1, 0.2, 2.5, 2.0
	case c == MeterClass1:
		wide, tight, wideLimit, tightLimit = 0.1, 0.2, 1.5, 1.0
	case !halfInductive:
		wide, tight, wideLimit, tightLimit = 0.01, 0.05, 1.0, 0.5
	default:
		wide, tight, wideLimit, tightLimit = 0.02, 0.1, 1.0, 0.6
	}
	switch {
	case current >= tight:
		return tightLimit
	case current >= wide:
		return wideLimit
	}
	return math.Inf(1)
}
