package physics

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
// Per tick: the native loop (or the setpoint) wants a power; the wanted power is
// clamped to what the commands, the rating and the battery allow; after the
// dead time the output follows it through ramp limit and lag. DC power is AC x Efficiency
// while charging and AC / Efficiency while discharging. Not modelled here:
// self-consumption, part-load efficiency, command resolution, minimum power.
type Inverter struct {
	PowerW   float64 // AC power at the end of the tick [W], charging positive
	MeanW    float64 // mean AC power over the tick [W]
	BatteryW float64 // power at the battery's terminals at the end of the tick [W], charging positive
	WantedW  float64 // what the loop or the setpoint asked for, after clamping [W]
	Mode     Mode
	Tripped  bool
	Battery  Battery

	Imported, Exported Energy // AC energy into and out of the device
	lost               Energy // conversion loss

	par    InverterParams
	loop   nativeLoop
	dead   delay
	out    actuator
	perEff float64
	feeder int
	phases Phases

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
}

// nativeLoop is a sampled integrator: every period it moves the wanted power
// by gain x (target - reading). It keeps its state in full precision, and forgets none of
// it unless it is told to leak; either would hide circulating power.
type nativeLoop struct {
	meter                  int
	gain, target, deadband float64
	keep                   float64 // what it remembers from one sample to the next [1]
	periodTicks, nextTick  int64
}

func newInverter(p InverterParams, s *Site) Inverter {
	stepS := float64(s.StepMS) / 1000
	ticks := func(seconds float64) int64 { n, _ := s.ticks(seconds); return n }
	v := Inverter{
		par: p, feeder: p.Feeder, phases: p.Phases,
		Battery: newBattery(p.Battery, stepS),
		dead:    newDelay(ticks(p.DeadTimeS), 0),
		out:     newActuator(p.RampUpWps, p.RampDownWps, p.LagS, stepS),
		perEff:  1 / p.Efficiency,
		loop: nativeLoop{
			meter: p.Loop.Meter, gain: p.Loop.Gain, target: p.Loop.TargetW,
			deadband: p.Loop.DeadbandW, keep: 1 - p.Loop.Leak, nextTick: -1,
		},
		lifeTicks:      int64(p.CommandLifeS*1000) / s.StepMS,
		reconnectTicks: int64(p.ReconnectS*1000) / s.StepMS,
	}
	if p.Loop.Meter >= 0 {
		v.loop.periodTicks = ticks(p.Loop.PeriodS)
		v.loop.nextTick = ticks(p.Loop.PhaseS)
	}
	v.Imported, v.Exported, v.lost = newEnergy(s.StepMS), newEnergy(s.StepMS), newEnergy(s.StepMS)
	v.release()
	return v
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

// ChargeRoomW is the largest AC power with which it could charge now, whatever it has been
// told [W], >= 0.
func (v *Inverter) ChargeRoomW() float64 {
	if v.Tripped {
		return 0
	}
	return min(v.par.RatingW, v.Battery.chargeMax*v.perEff)
}

// DischargeRoomW is the largest AC power with which it could discharge now, whatever it has
// been told [W], >= 0.
func (v *Inverter) DischargeRoomW() float64 {
	if v.Tripped {
		return 0
	}
	return min(v.par.RatingW, v.Battery.dischMax*v.par.Efficiency)
}

// step moves the inverter by one tick.
func (v *Inverter) step(tick int64, meters []Meter) {
	if v.forgetAtTick != 0 && tick >= v.forgetAtTick {
		v.release()
	}
	if v.Tripped && tick >= v.tripEndTick {
		v.Tripped = false
	}
	batteryHigh := v.Battery.chargeMax * v.perEff
	batteryLow := -(v.Battery.dischMax * v.par.Efficiency)
	low, high := max(v.lowW, batteryLow), min(v.highW, batteryHigh)
	high = max(high, batteryLow)
	low = min(low, high)

	if v.Tripped || !v.connected || v.Mode == Standby {
		v.open(tick)
		return
	}
	want := v.WantedW
	if tick == v.loop.nextTick {
		v.loop.nextTick += v.loop.periodTicks
		if v.Mode == SelfConsumption {
			want *= v.loop.keep
			err := meters[v.loop.meter].ReadingW - v.loop.target
			if err > v.loop.deadband || err < -v.loop.deadband {
				want -= float64(v.loop.gain * err)
			}
		}
	}
	switch v.Mode {
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
	v.out.move(v.dead.shift(want))
	// The battery's own limits hold whatever is still under way in ramp and lag.
	if v.out.value > batteryHigh {
		v.out.force(batteryHigh)
	} else if v.out.value < batteryLow {
		v.out.force(batteryLow)
	}
	v.PowerW = v.out.value
	v.MeanW = min(max(v.out.mean, batteryLow), batteryHigh)
	v.book()
}

// open keeps the contactor open for one tick.
func (v *Inverter) open(tick int64) {
	if v.loop.nextTick == tick {
		v.loop.nextTick += v.loop.periodTicks
	}
	v.WantedW = 0
	v.dead.fill(0)
	v.out.force(0)
	v.PowerW, v.MeanW, v.BatteryW = 0, 0, 0
}

// book converts AC to DC power and moves the energies.
func (v *Inverter) book() {
	if v.MeanW == 0 && v.PowerW == 0 {
		v.BatteryW = 0
		return
	}
	factor := v.par.Efficiency
	if v.PowerW < 0 {
		factor = v.perEff
	}
	v.BatteryW = v.PowerW * factor
	dc := v.MeanW * v.par.Efficiency
	if v.MeanW < 0 {
		dc = v.MeanW * v.perEff
		v.Exported.add(-v.MeanW)
	} else {
		v.Imported.add(v.MeanW)
	}
	v.lost.add(v.MeanW - dc)
	v.Battery.book(dc)
}

// flush books the energies' blocks.
func (v *Inverter) flush() {
	v.Imported.flush()
	v.Exported.flush()
	v.lost.flush()
	v.Battery.flush()
}
