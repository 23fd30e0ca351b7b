package physics

// Charger is the runtime state of one charger and the vehicle at it.
//
// The charger offers a current; the vehicle follows it after ResponseS with
// RampAps, never beyond what it can take. An offer under MinA pauses the session: the
// vehicle never draws a current between 0 and MinA in the steady state (IEC 61851-1, annex
// A: 6 A). Power is current x nominal phase voltage x conductors, at unity
// power factor. With Surplus it offers by a loop of its own, never more than it has been told. The
// vehicle's taper is linear over the last TaperWh of what it wants, down to a tenth.
type Charger struct {
	PowerW    float64 // at the end of the tick [W]
	MeanW     float64 // mean over the tick [W]
	CurrentA  float64 // per conductor at the end of the tick [A]
	OfferedA  float64 // what it offers now [A]
	Plugged   bool
	Satisfied bool    // the vehicle has got the energy that it wanted
	SessionWh float64 // energy of this session [Wh]
	Energy    Energy

	par        *ChargerParams
	feeder     int
	phases     Phases
	response   delay
	rampA      actuator
	perAmpW    float64
	hours      float64
	commandedA float64
	vehicleA   float64
	wantsWh    float64

	surplusA  float64 // what its own loop offers [A]
	loopTicks int64
	loopNext  int64
	holdTicks int64
	dueTicks  int64 // for how long a pause, or a resumption, has been due
	paused    bool
}

func newCharger(p *ChargerParams, s *Site) Charger {
	n, _ := s.ticks(p.ResponseS)
	stepS := float64(s.StepMS) / 1000
	c := Charger{
		par: p, feeder: p.Feeder, phases: p.Phases,
		response:   newDelay(n, 0),
		rampA:      newActuator(p.RampAps, p.RampAps, 0, stepS),
		perAmpW:    s.Supply.VoltageV,
		hours:      stepS / 3600,
		Energy:     newEnergy(s.StepMS),
		commandedA: p.CommandedA,
	}
	if p.Phases == AllPhases {
		c.perAmpW *= float64(s.Phases)
	}
	if p.Surplus != nil {
		c.loopTicks, _ = s.ticks(p.Surplus.PeriodS)
		c.holdTicks = wholeTicks(p.Surplus.HoldS, stepS)
		c.paused = true
	}
	c.offer()
	return c
}

func (c *Charger) offer() {
	c.OfferedA = min(c.commandedA, c.par.MaxA)
	if c.par.Surplus != nil {
		c.OfferedA = min(c.OfferedA, c.surplusA)
		if c.paused {
			c.OfferedA = 0
		}
	}
	if c.OfferedA < c.par.MinA {
		c.OfferedA = 0
	}
}

// CommandedA is the current that it has been told to offer at most [A].
func (c *Charger) CommandedA() float64 { return c.commandedA }

func (c *Charger) plugIn(currentA, energyWh float64) {
	c.Plugged, c.Satisfied = true, false
	c.vehicleA, c.wantsWh, c.SessionWh = currentA, energyWh, 0
}

// unplug ends the session; the current stops at once, since the contactor opens.
func (c *Charger) unplug() {
	c.Plugged, c.Satisfied = false, false
	c.response.fill(0)
	c.rampA.force(0)
	c.CurrentA, c.PowerW, c.MeanW = 0, 0, 0
}

// State is the state of the control pilot.
func (c *Charger) State() PilotState {
	switch {
	case !c.Plugged:
		return PilotA
	case c.OfferedA == 0 || c.Satisfied:
		return PilotB
	}
	return PilotC
}

// DutyPercent is the duty cycle of the control pilot [%]; 100 while nothing is offered.
func (c *Charger) DutyPercent() float64 { return PilotDuty(c.OfferedA) }

// follow takes one sample of the surplus loop: the offer moves against the reading's error, and pauses or resumes only
// when that has been due for HoldS.
func (c *Charger) follow(meters []Meter) {
	l := c.par.Surplus
	error := meters[l.Meter].ReadingW - l.TargetW
	c.surplusA = min(max(c.surplusA-float64(l.Gain*error)/c.perAmpW, 0), c.par.MaxA)
	due := c.surplusA >= c.par.MinA
	if due != c.paused {
		c.dueTicks = 0
	} else if c.dueTicks += c.loopTicks; c.dueTicks > c.holdTicks {
		c.paused, c.dueTicks = !c.paused, 0
	}
	if !c.paused {
		c.surplusA = max(c.surplusA, c.par.MinA) // it does not shrink below, it pauses
	}
	c.offer()
}

func (c *Charger) step(tick int64, meters []Meter) {
	if c.par.Surplus != nil && tick == c.loopNext {
		c.loopNext += c.loopTicks
		c.follow(meters)
	}
	if !c.Plugged {
		return
	}
	if c.wantsWh > 0 && c.SessionWh >= c.wantsWh {
		c.Satisfied = true
	}
	want := min(c.OfferedA, c.vehicleA)
	if left := c.wantsWh - c.SessionWh; c.wantsWh > 0 && left < c.par.TaperWh {
		want = min(want, max(c.par.MinA, float64(c.vehicleA*max(left/c.par.TaperWh, 0.1))))
	}
	if want < c.par.MinA || c.Satisfied {
		want = 0
	}
	c.rampA.move(c.response.shift(want))
	c.CurrentA = c.rampA.value
	c.PowerW = c.CurrentA * c.perAmpW
	c.MeanW = c.rampA.mean * c.perAmpW
	c.SessionWh += float64(c.MeanW * c.hours)
	c.Energy.add(c.MeanW)
}

// dark keeps the charger without supply for one tick; the session goes on when the supply is back.
func (c *Charger) dark() {
	c.response.fill(0)
	c.rampA.force(0)
	c.CurrentA, c.PowerW, c.MeanW = 0, 0, 0
}
