package registers

import (
	"fmt"
	"math"

	"kilter/emulator/registers/sunspec"
)

// binding says what feeds a SunSpec point, and what a write to it means.
type binding struct {
	signal Signal
	// derive computes the value, inside units and sign, where no single signal holds it; the signal then only
	// says what the value is like.
	derive func(*Values) float64
	// measure is what the point counts in.
	measure measure
	// sign says which direction of power the point counts as positive.
	sign      signRule
	magnitude bool
	counter   bool
	text      TextField
	writable  bool
	// low and high bound a write in the point's own unit.
	low, high float64
	// opening is what a writable point without a signal holds at first.
	opening uint16
	// enable names the point whose bits under mask must be set for a write to be obeyed.
	enable string
	mask   uint64
	timer  string
	// also is a second condition, a selector and the value that it must have.
	also    string
	alsoRaw uint64
	// reverts names the point with the value to fall back to, and revertsIf the one that enables that.
	reverts, revertsIf string
	// words are an enumeration's values, where they mean something inside.
	words []Word
	// free is set for a writable point without a signal that takes any value.
	free bool
	// most and finest overrule the reach that follows from the signal.
	most   float64
	finest int
	// missing is set where the device's settings do not tell the value.
	missing bool
	// fixedText is a text that is the same on all devices.
	fixedText string
	// showsUnit is set for the point that tells the device's Modbus unit.
	showsUnit bool
}

// measure is the unit of a point where it is not the inside unit.
type measure uint8

const (
	plain measure = iota
	percent
	// percentCharge and percentDischarge are percents of the rated charge and discharge power.
	percentCharge
	percentDischarge
	// percentPower is a percent of the rated power.
	percentPower
)

type signRule uint8

const (
	// unsigned points have no direction.
	unsigned signRule = iota
	// byChoice points follow the options, since the standard leaves their sign open (check-values SS-55,
	// SS-56: no sign in the model definitions).
	byChoice
	// outOf points count generation as positive, as the standard says (SS-50, SS-53: models 701 and 704).
	outOf
)

// number is the binding of a value that is only shown.
func number(s Signal) binding { return binding{signal: s} }

// flow is the binding of a value with a direction that the options settle.
func flow(s Signal) binding { return binding{signal: s, sign: byChoice} }

// magnitude is the binding of an effective current, which has no direction.
func magnitude(s Signal) binding { return binding{signal: s, magnitude: true} }

// total is the binding of a counter.
func total(s Signal) binding { return binding{signal: s, counter: true} }

// computed is the binding of a value that several signals make.
func computed(derive func(*Values) float64) binding { return binding{signal: NoSignal, derive: derive} }

// always is the binding of a constant.
func always(x float64) binding { return computed(func(*Values) float64 { return x }) }

// accepted is the binding of a point that a controller may write only with the one value that the bench has.
func accepted(x uint16) binding {
	return binding{signal: NoSignal, writable: true, low: float64(x), high: float64(x), opening: x}
}

// choice is the binding of a writable selector that has no signal of its own.
func choice(highest uint16) binding {
	return binding{signal: NoSignal, writable: true, high: float64(highest)}
}

// inPercent turns the binding of a fraction into one of a percentage.
func (b binding) inPercent() binding {
	b.measure = percent
	return b
}

func (b binding) positiveOutOf() binding {
	b.sign = outOf
	return b
}

// unit is how much one unit of the point is inside.
func (b *builder) unit(bound binding) float64 {
	switch bound.measure {
	case percent:
		return 0.01
	case percentCharge:
		return b.ratings.ChargePowerW / 100
	case percentDischarge:
		return b.ratings.DischargePowerW / 100
	case percentPower:
		return b.ratings.PowerW / 100
	}
	return 1
}

// isThere tells whether the device has what the point tells, or is a percentage of. Without a rating a percentage
// would mean nothing, so the point reads as unimplemented and cannot be written.
func (b *builder) isThere(bound binding) bool {
	switch bound.measure {
	case percentCharge:
		return b.key.ratings.ChargePowerW > 0
	case percentDischarge:
		return b.key.ratings.DischargePowerW > 0
	case percentPower:
		return b.key.ratings.PowerW > 0
	}
	return !bound.missing
}

// reach is the largest magnitude that a point has to hold, in its own unit, and the finest power of ten that is
// of use for it. Measured powers and currents get twice the rating, since a snapshot may overshoot.
func (b *builder) reach(bound binding) (largest float64, finest int) {
	if bound.most > 0 {
		return bound.most, bound.finest
	}
	if bound.measure != plain {
		if bound.writable {
			return 100, -2
		}
		return 100, -1
	}
	switch bound.signal {
	case RatedPower:
		return b.ratings.PowerW, 0
	case RatedApparentPower:
		return b.ratings.ApparentPowerVA, 0
	case RatedCurrent:
		return b.ratings.CurrentA, -1
	case RatedChargePower:
		return b.ratings.ChargePowerW, 0
	case RatedDischargePower:
		return b.ratings.DischargePowerW, 0
	case UsableCapacity:
		return b.ratings.CapacityWh, 0
	case Setpoint:
		return 2 * b.ratings.PowerW, 0
	case PowerFactor:
		return 1, -3
	case NoSignal:
		return 2 * max(b.ratings.PowerW, b.ratings.CapacityWh), 0
	}
	switch signals[bound.signal].dimension {
	case power, reactivePower, apparentPower:
		return 2 * max(b.ratings.ApparentPowerVA, max(b.ratings.ChargePowerW, b.ratings.DischargePowerW)), -1
	case current:
		return 2 * b.ratings.CurrentA, -2
	case voltage:
		return 1000, -1
	case frequency:
		return 100, -2
	case temperature:
		return 200, -1
	}
	return 1, 0
}

func (b *builder) bind(m *sunspec.Model, p *sunspec.Point, name string, bound binding, exponent int) Point {
	scale := 1.0
	if exponent < 0 {
		scale = 1 / math.Pow10(-exponent)
	} else if exponent > 0 {
		scale = math.Pow10(exponent)
	}
	point := Point{
		Name: name, Signal: bound.signal, Type: pointType(p.Type), Registers: p.Size,
		Scale: scale * b.unit(bound), Sign: b.signOf(m.ID, bound.sign), Magnitude: bound.magnitude,
		Counter: bound.counter, Writable: bound.writable, Text: bound.text, ShowsUnit: bound.showsUnit, Words: bound.words, derive: bound.derive,
	}
	point.Absent = Order{}.get(sunspec.Unimplemented(p.Type, min(p.Size, 4)))
	if bound.text != NoText || bound.derive != nil {
		point.Signal = NoSignal
	}
	if bound.writable && !bound.free && bound.words == nil && (bound.low != 0 || bound.high != 0 || bound.signal == NoSignal) {
		point.HasRange, point.Min, point.Max = true, bound.low*b.unit(bound), bound.high*b.unit(bound)
	}
	if bound.writable && bound.signal == NoSignal {
		point.Fixed = []uint16{bound.opening}
	}
	if bound.also != "" {
		point.Also = &Need{Point: fmt.Sprintf("%d.%s", m.ID, bound.also), Mask: 0xFFFF, Raw: bound.alsoRaw}
	}
	if bound.reverts != "" {
		point.Reversion = &Reversion{Value: fmt.Sprintf("%d.%s", m.ID, bound.reverts), Enable: fmt.Sprintf("%d.%s", m.ID, bound.revertsIf)}
	}
	if bound.enable != "" {
		point.Needs = &Need{Point: fmt.Sprintf("%d.%s", m.ID, bound.enable), Mask: bound.mask, Raw: bound.mask, Ends: true}
	}
	if bound.timer != "" {
		point.Timer = fmt.Sprintf("%d.%s", m.ID, bound.timer)
	}
	return point
}

// signOf settles a point's sign: the usual reading of a meter counts import as positive, that of everything else
// counts what the device gives.
func (b *builder) signOf(model uint16, rule signRule) float64 {
	switch rule {
	case unsigned:
		return 1
	case outOf:
		return -1
	}
	switch b.key.sign {
	case SignInto:
		return 1
	case SignOutOf:
		return -1
	}
	if isMeterModel(model) {
		return 1
	}
	return -1
}

func isMeterModel(id uint16) bool { return id >= 201 && id <= 214 }
