package physics

// Load is the runtime state of one load.
type Load struct {
	PowerW float64 // at the end of the tick [W]
	MeanW  float64 // mean over the tick [W]
	RiseC  float64 // temperature rise of a thermostat load [K]
	On     bool    // switched on
	Calls  bool    // the thermostat calls for heat
	kind   LoadKind
	phases Phases
	feeder int
	fullW  float64 // power while it draws [W]
	decay  float64 // thermostat or inrush decay over one tick
	Energy Energy

	par      *LoadParams
	excess   float64 // inrush above fullW [W]
	tauS     float64
	stepS    float64
	stepMS   int64
	at       int     // profile index
	perVar   float64 // reactive power per active power [1]
	onTicks  int64   // of a burst period
	allTicks int64
	chance   stream
	untilMS  int64   // when the present use, or gap, of a random load ends
	useW     float64 // what the present use draws [W]; 0 in a gap
	startS   int64   // local second of day at the start
}

func newLoad(p *LoadParams, s *Site) Load {
	l := Load{par: p, kind: p.Kind, fullW: p.PowerW, feeder: p.Feeder, phases: p.Phases, On: p.On, stepMS: s.StepMS, stepS: float64(s.StepMS) / 1000}
	l.Energy = newEnergy(s.StepMS)
	switch p.Kind {
	case ThermostatLoad:
		l.decay = exp(-l.stepS / p.TimeConstantS)
		l.RiseC = p.InitialC
	case MotorLoad:
		l.decay = exp(-l.stepS / p.InrushS)
		l.tauS = p.InrushS
	case BurstLoad:
		l.allTicks, _ = s.ticks(p.PeriodS)
		l.onTicks = int64(float64(p.Duty*float64(l.allTicks)) + 0.5)
	case RandomLoad:
		l.chance = newStream(s.Seed, "load/"+p.Name)
		l.startS = s.StartSecondOfDay
		l.untilMS = int64(l.chance.exponential(p.MeanGapS * 1000))
	}
	if p.PowerFactor != 0 {
		l.perVar = ReactiveAt(1, p.PowerFactor)
	}
	l.now(0)
	return l
}

// switchTo switches the load; a motor starts with its inrush.
func (l *Load) switchTo(on bool) {
	if on && !l.On && l.kind == MotorLoad {
		l.excess = (l.par.InrushFactor - 1) * l.fullW
	}
	l.On = on
	if !on {
		l.excess, l.Calls = 0, false
	}
}

// now sets PowerW for the instant that begins the given tick.
func (l *Load) now(tick int64) {
	l.PowerW = 0
	if !l.On {
		return
	}
	switch l.kind {
	case ConstantLoad:
		l.PowerW = l.fullW
	case ThermostatLoad:
		if l.Calls {
			l.PowerW = l.fullW
		}
	case MotorLoad:
		l.PowerW = l.fullW + l.excess
	case ProfileLoad:
		l.PowerW = l.profile(tick * l.stepMS)
	case BurstLoad:
		l.PowerW = l.burst(tick)
	case RandomLoad:
		l.PowerW = l.use(tick * l.stepMS)
	}
}

// burst is what a burst-fired heater draws in a tick [W].
func (l *Load) burst(tick int64) float64 {
	if tick%l.allTicks < l.onTicks {
		return l.fullW
	}
	return 0
}

// use moves the process of a random load to an instant, and returns what it draws [W].
//
// Gaps and uses alternate, each exponentially distributed; a use draws a power between a third of PowerW and all
// of it. A use that the hour's share rejects is passed over (thinning), so that uses fall where people are
// awake. Every cycle draws the same four numbers, whatever it decides.
func (l *Load) use(ms int64) float64 {
	for ms >= l.untilMS {
		if l.useW > 0 {
			l.useW = 0
			l.untilMS += 1 + int64(l.chance.exponential(l.par.MeanGapS*1000))
			continue
		}
		lasts, size, taken := l.chance.exponential(l.par.MeanOnS*1000), l.chance.uniform(), l.chance.uniform()
		share := l.par.HourShare[((l.startS+l.untilMS/1000)/3600)%24]
		if l.par.HourShare == [24]float64{} {
			share = 1
		}
		if taken < share {
			l.useW = l.fullW * (1 + float64(2*size)) / 3
			l.untilMS += 1 + int64(lasts)
		} else {
			l.untilMS += 1 + int64(l.chance.exponential(l.par.MeanGapS*1000))
		}
	}
	return l.useW
}

// dark keeps the load without supply for one tick.
func (l *Load) dark(tick int64) {
	if l.kind == ThermostatLoad {
		l.RiseC *= l.decay
	}
	l.excess = 0
	if l.On && l.kind == MotorLoad {
		l.excess = (l.par.InrushFactor - 1) * l.fullW // it starts anew when the supply is back
	}
	if l.On && l.kind == RandomLoad {
		l.use(tick * l.stepMS)
	}
	l.PowerW, l.MeanW = 0, 0
}

// ReactiveVar is its reactive power at the end of the tick [var], absorbing positive.
func (l *Load) ReactiveVar() float64 { return l.PowerW * l.perVar }

// step moves the load by one tick, which begins at the given tick.
//
// A thermostat load is a heated mass with first-order loss, tau dT/dt = T_end - T, where
// T_end is HeatedC while it draws and 0 while it does not; the thermostat is looked at
// once a tick. A motor's inrush decays as e^(-t/InrushS). Common practice, no source.
func (l *Load) step(tick int64) {
	if !l.On {
		if l.kind == ThermostatLoad {
			l.RiseC *= l.decay
		}
		l.PowerW, l.MeanW = 0, 0
		return
	}
	switch l.kind {
	case ConstantLoad:
		l.PowerW, l.MeanW = l.fullW, l.fullW
	case ThermostatLoad:
		if l.RiseC >= l.par.CutOutC {
			l.Calls = false
		} else if l.RiseC <= l.par.CutInC {
			l.Calls = true
		}
		end := 0.0
		l.PowerW = 0
		if l.Calls {
			end, l.PowerW = l.par.HeatedC, l.fullW
		}
		l.RiseC = end + float64((l.RiseC-end)*l.decay)
		l.MeanW = l.PowerW
	case MotorLoad:
		was := l.excess
		l.excess *= l.decay
		if l.excess < 1e-3 {
			l.excess = 0
		}
		l.PowerW = l.fullW + l.excess
		l.MeanW = l.fullW + float64((was-l.excess)*l.tauS)/l.stepS
	case ProfileLoad:
		was := l.PowerW
		l.PowerW = l.profile((tick + 1) * l.stepMS)
		l.MeanW = (was + l.PowerW) / 2
	case BurstLoad:
		l.PowerW = l.burst(tick)
		l.MeanW = l.PowerW
	case RandomLoad:
		l.PowerW = l.use(tick * l.stepMS)
		l.MeanW = l.PowerW
	}
	l.Energy.add(l.MeanW)
}

// profile returns the profile's value at a time that never goes back.
func (l *Load) profile(ms int64) float64 {
	pts := l.par.Profile
	if len(pts) == 0 {
		return 0
	}
	for l.at+1 < len(pts) && pts[l.at+1].AtMS <= ms {
		l.at++
	}
	a := pts[l.at]
	if ms <= a.AtMS || l.at+1 == len(pts) {
		return a.PowerW
	}
	b := pts[l.at+1]
	return a.PowerW + float64((b.PowerW-a.PowerW)*float64(ms-a.AtMS))/float64(b.AtMS-a.AtMS)
}
