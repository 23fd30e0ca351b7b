package physics

// Charger is the runtime state of one charger and the vehicle at it.
//
// The charger offers a current; the vehicle follows it after ResponseS with
// RampAps, never beyond what it can take. An offer under MinA pauses the session: the
// vehicle never draws a current between 0 and MinA in the steady state (IEC 61851-1, annex
// A: 6 A). Power is current x nominal phase voltage x conductors, at unity
// power factor. Not modelled here: the pilot's duty cycle, the battery's taper.
type Charger struct {
	PowerW    float64 // at the end of the tick [W]
	MeanW     float64 // mean over the tick [W]
	CurrentA  float64 // per conductor at the end of the tick [A]
	OfferedA  float64 // what it offers now [A]
	Plugged   bool
	Satisfied bool    // the vehicle has got the energy that it wanted
	SessionWh float64 // energy of this session [Wh]
	Energy    Energy

	par        ChargerParams
	feeder     int
	phases     Phases
	response   delay
	rampA      actuator
	perAmpW    float64
	hours      float64
	commandedA float64
	vehicleA   float64
	wantsWh    float64
}

func newCharger(p ChargerParams, s *Site) Charger {
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
	c.offer()
	return c
}

func (c *Charger) offer() {
	c.OfferedA = min(c.commandedA, c.par.MaxA)
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

func (c *Charger) step() {
	if !c.Plugged {
		return
	}
	if c.wantsWh > 0 && c.SessionWh >= c.wantsWh {
		c.Satisfied = true
	}
	want := min(c.OfferedA, c.vehicleA)
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
