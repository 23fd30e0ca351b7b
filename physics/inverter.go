package physics

import "math"

// Mode is what an inverter has been told to do.
type Mode uint8

// The modes.
const (
	SelfConsumption Mode = iota // its native loop drives its meter's reading to the target
	Hold                        // runs at 0 W
	Charge                      // charges with all that its charge limit allows
	Discharge                   // discharges with all that its discharge limit allows
	FollowSetpoint              // follows the commanded setpoint
	Standby                     // contactor open
)

// String gives the mode in the trade's words.
func (m Mode) String() string {
	switch m {
	case SelfConsumption:
		return "self-consumption"
	case Hold:
		return "hold"
	case Charge:
		return "charge"
	case Discharge:
		return "discharge"
	case FollowSetpoint:
		return "setpoint"
	case Standby:
		return "standby"
	}
	return "unknown"
}

// Inverter is the runtime state of one battery inverter. Fields are for reading; only
// Step and the commands change them.
//
// Per tick: the native loop, a timed window or the setpoint wants a power; it is
// clamped to what the commands, the rating, the supply and the battery allow; after the
// dead time the output follows it through ramp limit and lag. DC power is AC x Efficiency
// while charging and AC / Efficiency while discharging, or follows a part-load curve (converter).
// PV on its DC side charges the battery first and shares the AC rating; what neither can take is
// throttled. Not modelled: harmonics, losses of the filter at no load.
type Inverter struct {
	PowerW   float64 // AC power at the end of the tick [W], charging positive
	MeanW    float64 // mean AC power over the tick [W]
	BatteryW float64 // power at the battery's terminals at the end of the tick [W], charging positive
	PVW      float64 // power taken from PV on the DC side, mean over the tick [W], >= 0
	WantedW  float64 // state of the loop, or the setpoint, after clamping [W]
	Reactive float64 // reactive power at the end of the tick [var], absorbing positive
	Mode     Mode
	Tripped  bool
	Forming  bool // it carries its island
	// Forgotten counts how often it has forgotten its commands because nobody renewed them.
	Forgotten int64
	Battery   Battery

	Imported, Exported Energy // AC energy into and out of the device
	PV                 Energy // taken from PV on the DC side
	lost               Energy // conversion loss and own consumption

	par     *InverterParams
	conv    converter
	loop    nativeLoop
	dead    delay
	out     actuator
	feeder  int
	phases  Phases
	fine    bool // something of the finer model is in use
	windup  bool
	ratingW float64

	// Commands.
	setpointW       float64
	chargeLimitW    float64
	dischargeLimitW float64
	outputLimit     float64
	connected       bool
	forgetAtTick    int64 // commands lapse at this tick; 0 means never
	lifeTicks       int64
	tripEndTick     int64
	reconnectTicks  int64
	lowW, highW     float64 // what commands and rating allow [W]

	// The finer model.
	answer      *supplyAnswer
	stepMS      int64
	timedAt     int     // next of par.Timed
	side        float64 // direction of the last power, 1 or -1
	restTicks   int64   // of rest so far in a changeover
	changeTicks int64
	pvMeanW     float64 // PV on the DC side, as much as there is [W]
	pvEndW      float64
	overTicks   int64 // of overload so far, while forming
	bearTicks   int64 // of overload that it bears
}

// nativeLoop is a sampled loop: every period it moves the wanted power against the reading's error. It keeps its
// state in full precision, and forgets none of it unless it is told to leak; either would hide circulating
// power.
type nativeLoop struct {
	meter                  int
	gain, target, deadband float64
	keep                   float64 // what it remembers from one sample to the next [1]
	form                   LoopForm
	kind                   DeadbandKind
	acts                   bool // of Hysteresis: it is beyond its deadband
	periodTicks, nextTick  int64
}

func newInverter(p *InverterParams, s *Site) Inverter {
	stepS := float64(s.StepMS) / 1000
	ticks := func(seconds float64) int64 { n, _ := s.ticks(seconds); return n }
	v := Inverter{
		par: p, feeder: p.Feeder, phases: p.Phases, conv: newConverter(p), ratingW: p.RatingW, windup: p.Loop.Windup, stepMS: s.StepMS,
		Battery: newBattery(&p.Battery, stepS),
		dead:    newDelay(ticks(p.DeadTimeS), 0),
		out:     newActuator(p.RampUpWps, p.RampDownWps, p.LagS, stepS),
		loop: nativeLoop{
			meter: p.Loop.Meter, gain: p.Loop.Gain, target: p.Loop.TargetW, form: p.Loop.Form, kind: p.Loop.Deadband,
			deadband: p.Loop.DeadbandW, keep: 1 - p.Loop.Leak, nextTick: -1,
		},
		lifeTicks:      int64(p.CommandLifeS*1000) / s.StepMS,
		reconnectTicks: int64(p.ReconnectS*1000) / s.StepMS,
		changeTicks:    ticks(p.ChangeoverS),
	}
	if p.Loop.Meter >= 0 {
		v.loop.periodTicks = ticks(p.Loop.PeriodS)
		v.loop.nextTick = ticks(p.Loop.PhaseS)
	}
	if p.Response != nil {
		v.answer = newSupplyAnswer(p.Response, p.RatingW, s)
	}
	if p.Backup != nil {
		v.bearTicks = wholeTicks(p.Backup.OverloadS, stepS)
	}
	v.fine = p.EfficiencyForm != ConstantEfficiency || p.SelfConsumptionW > 0 || p.StandbyW > 0 || p.ResolutionW > 0 ||
		p.MinimumW > 0 || p.ChangeoverS > 0 || len(p.Timed) > 0 || p.Loop.Windup || v.answer != nil || v.Battery.fine != nil
	for i := range s.Arrays {
		v.fine = v.fine || s.Arrays[i].OnDC && s.Inverters[s.Arrays[i].Inverter].Name == p.Name
	}
	for _, e := range []*Energy{&v.Imported, &v.Exported, &v.PV, &v.lost} {
		*e = newEnergy(s.StepMS)
	}
	v.release()
	v.start()
	return v
}

// start has it run at its initial power, as one that has been at it for a while.
func (v *Inverter) start() {
	w := v.par.InitialW
	if w == 0 {
		return
	}
	v.WantedW, v.PowerW = w, w
	v.dead.fill(w)
	v.out.force(w)
}

// release forgets every command.
func (v *Inverter) release() {
	v.Mode = SelfConsumption
	v.setpointW = 0
	v.chargeLimitW, v.dischargeLimitW = v.par.RatingW, v.par.RatingW
	v.outputLimit = 1
	v.connected = true
	v.forgetAtTick = 0
	v.window()
}

// window works out what commands and rating allow.
func (v *Inverter) window() {
	most := v.par.RatingW * v.outputLimit
	// A negative limit of one direction forces at least that much of the other;
	// where both force, discharging yields.
	v.highW = min(max(v.chargeLimitW, -most), most)
	v.lowW = min(max(-v.dischargeLimitW, -most), most)
	v.highW = max(v.highW, v.lowW)
}

// ChargeLimitW, DischargeLimitW, SetpointW, OutputLimit and Connected tell the
// commands in force.
func (v *Inverter) ChargeLimitW() float64    { return v.chargeLimitW }
func (v *Inverter) DischargeLimitW() float64 { return v.dischargeLimitW }
func (v *Inverter) SetpointW() float64       { return v.setpointW }
func (v *Inverter) OutputLimit() float64     { return v.outputLimit }
func (v *Inverter) Connected() bool          { return v.connected }

// RatingW is the largest AC power in either direction [W].
func (v *Inverter) RatingW() float64 { return v.ratingW }

// OnSupply says whether voltage, frequency and protection let it be connected.
func (v *Inverter) OnSupply() bool { return v.answer == nil || v.answer.on || v.Forming }

// ReserveSOC is the reserve in force [1].
func (v *Inverter) ReserveSOC() float64 { return v.Battery.reserve }

// reach is the AC power that the battery and the PV on its DC side can give (negative) and take now [W]. Surplus of PV
// that the battery cannot take must leave: high is then negative.
func (v *Inverter) reach() (low, high float64) {
	give, take := v.Battery.dischMax+v.pvMeanW, v.Battery.chargeMax-v.pvMeanW
	low = -v.conv.output(give)
	if take >= 0 {
		high = v.conv.input(take)
	} else {
		high = -v.conv.output(-take)
	}
	return min(low, 0), high
}

// ChargeRoomW is the largest AC power with which it could charge now, whatever it has been
// told [W], >= 0.
func (v *Inverter) ChargeRoomW() float64 {
	if v.Tripped || v.answer != nil && !v.answer.on {
		return 0
	}
	_, high := v.reach()
	return max(0, min(v.ratingW, high))
}

// DischargeRoomW is the largest AC power with which it could discharge now, whatever it has
// been told [W], >= 0.
func (v *Inverter) DischargeRoomW() float64 {
	if v.Tripped || v.answer != nil && !v.answer.on {
		return 0
	}
	low, _ := v.reach()
	return max(0, min(v.ratingW, -low)-v.par.SelfConsumptionW)
}

// step moves the inverter by one tick.
func (v *Inverter) step(tick int64, meters []Meter, u *SupplyState) {
	if v.forgetAtTick != 0 && tick >= v.forgetAtTick {
		v.release()
		v.Forgotten++
	}
	if v.Tripped && tick >= v.tripEndTick {
		v.Tripped = false
	}
	if v.fine {
		v.stepFine(tick, meters, u)
		return
	}
	if v.Tripped || !v.connected || v.Mode == Standby {
		v.open(tick)
		return
	}
	batteryHigh := v.Battery.chargeMax * v.conv.inverse
	batteryLow := -(v.Battery.dischMax * v.conv.nominal)
	var want float64
	if v.Mode == SelfConsumption && tick != v.loop.nextTick {
		// Between two samples, which is nearly always: want's way, without the call.
		want = clamp(v.WantedW, v.lowW, v.highW)
		want = clamp(want, batteryLow, batteryHigh)
		v.WantedW = want
	} else {
		want = v.want(tick, meters, batteryLow, batteryHigh)
	}
	want = v.dead.shift(want)
	if want == v.out.ramp { // at rest, or on the way by lag alone
		v.out.hold(want)
	} else {
		v.out.move(want)
	}
	v.bound(batteryLow, batteryHigh)
	v.book(v.out.value, clamp(v.out.mean, batteryLow, batteryHigh))
}

// clamp bounds v by low and then by high. The builtins min and max mind NaN and signed zeros, which costs more than
// the rest of a line in the step.
func clamp(v, low, high float64) float64 {
	if v < low {
		v = low
	}
	if v > high {
		v = high
	}
	return v
}

// want is the power that loop, mode and commands ask for, clamped to what is allowed [W].
func (v *Inverter) want(tick int64, meters []Meter, batteryLow, batteryHigh float64) float64 {
	low, high := max(v.lowW, batteryLow), min(v.highW, batteryHigh)
	high = max(high, batteryLow)
	low = min(low, high)
	want := v.WantedW
	if tick == v.loop.nextTick {
		v.loop.nextTick += v.loop.periodTicks
		if v.Mode == SelfConsumption {
			want = v.loop.sample(want, v.out.value, meters[v.loop.meter].ReadingW)
		}
	}
	switch v.Mode {
	case SelfConsumption:
		if v.windup {
			v.WantedW = min(max(want, -10*v.par.RatingW), 10*v.par.RatingW)
			return min(max(want, low), high)
		}
	case Hold:
		want = 0
	case Charge:
		want = high
	case Discharge:
		want = low
	case FollowSetpoint:
		want = v.setpointW
	}
	// Anti-windup: the integrator's state is what was allowed, not what was asked for.
	want = min(max(want, low), high)
	v.WantedW = want
	return want
}

// sample takes one sample of the loop: its state u, the actual output y and the reading, all [W].
func (l *nativeLoop) sample(u, y, reading float64) float64 {
	e := reading - l.target
	u = float64(u * l.keep)
	size := math.Abs(e)
	switch l.kind {
	case Hysteresis:
		if l.acts {
			l.acts = size > l.deadband/2
		} else {
			l.acts = size > l.deadband
		}
		if !l.acts {
			return u
		}
	default:
		if size <= l.deadband {
			return u
		}
		if l.kind == Remainder {
			e -= math.Copysign(l.deadband, e)
		}
	}
	switch l.form {
	case FromActual:
		u = y
	case FeedForward:
		e = float64(e-y) + u // u + k ((y - e) - u) = u - k (e - y + u)
	}
	return u - float64(l.gain*e)
}

// bound holds the output within the battery's own limits, whatever is still under way in ramp and lag.
func (v *Inverter) bound(low, high float64) {
	if v.out.value > high {
		v.out.force(high)
	} else if v.out.value < low {
		v.out.force(low)
	}
}

// open keeps the contactor open for one tick.
func (v *Inverter) open(tick int64) {
	if v.loop.nextTick == tick {
		v.loop.nextTick += v.loop.periodTicks
	}
	v.WantedW = 0
	v.dead.fill(0)
	v.out.force(0)
	v.PowerW, v.MeanW, v.BatteryW, v.PVW, v.Reactive = 0, 0, 0, 0, 0
}

// book takes the tick's AC power at its end and its mean [W], converts it to DC and moves the energies.
func (v *Inverter) book(endW, meanW float64) {
	v.PowerW, v.MeanW = endW, meanW
	if meanW == 0 && endW == 0 {
		v.BatteryW = 0
		return
	}
	if endW < 0 {
		v.BatteryW = endW * v.conv.inverse
	} else {
		v.BatteryW = endW * v.conv.nominal
	}
	if meanW < 0 {
		v.Exported.add(-meanW)
		v.Battery.bookEnergy(float64(meanW * v.conv.inverse))
	} else {
		v.Imported.add(meanW)
		v.Battery.bookEnergy(float64(meanW * v.conv.nominal))
	}
	v.Battery.rateEnergy()
}

// flush books the energies' blocks. With a constant efficiency what was lost follows from what went in and out.
func (v *Inverter) flush() {
	v.lose()
	v.Imported.flush()
	v.Exported.flush()
	v.PV.flush()
	v.lost.flush()
	v.Battery.flush()
}

// lose works out the conversion loss of the block from its energies, where the step has not.
func (v *Inverter) lose() {
	if !v.fine {
		v.lost.block = float64(v.Imported.block*(1-v.conv.nominal)) + float64(v.Exported.block*(v.conv.inverse-1))
	}
}
