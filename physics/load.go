package physics

// Load is the runtime state of one load.
type Load struct {
	PowerW float64 // at the end of the tick [W]
	MeanW  float64 // mean over the tick [W]
	On     bool    // switched on
	Calls  bool    // the thermostat calls for heat
	RiseC  float64 // temperature rise of a thermostat load [K]
	Energy Energy

	par    LoadParams
	feeder int
	phases Phases
	stepMS int64
	decay  float64 // thermostat or inrush decay over one tick
	excess float64 // inrush above PowerW [W]
	tauS   float64
	stepS  float64
	at     int // profile index
}

func newLoad(p LoadParams, s *Site) Load {
	l := Load{par: p, feeder: p.Feeder, phases: p.Phases, On: p.On, stepMS: s.StepMS, stepS: float64(s.StepMS) / 1000}
	l.Energy = newEnergy(s.StepMS)
	switch p.Kind {
	case ThermostatLoad:
		l.decay = exp(-l.stepS / p.TimeConstantS)
		l.RiseC = p.InitialC
	case MotorLoad:
		l.decay = exp(-l.stepS / p.InrushS)
		l.tauS = p.InrushS
	}
	l.now(0)
	return l
}

// switchTo switches the load; a motor starts with its inrush.
func (l *Load) switchTo(on bool) {
	if on && !l.On && l.par.Kind == MotorLoad {
		l.excess = (l.par.InrushFactor - 1) * l.par.PowerW
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
	switch l.par.Kind {
	case ConstantLoad:
		l.PowerW = l.par.PowerW
	case ThermostatLoad:
		if l.Calls {
			l.PowerW = l.par.PowerW
		}
	case MotorLoad:
		l.PowerW = l.par.PowerW + l.excess
	case ProfileLoad:
		l.PowerW = l.profile(tick * l.stepMS)
	}
}

// step moves the load by one tick, which begins at the given tick.
//
// A thermostat load is a heated mass with first-order loss, tau dT/dt = T_end - T, where
// T_end is HeatedC while it draws and 0 while it does not; the thermostat is looked at
// once a tick. A motor's inrush decays as e^(-t/InrushS). Common practice, no source.
func (l *Load) step(tick int64) {
	if !l.On {
		if l.par.Kind == ThermostatLoad {
			l.RiseC *= l.decay
		}
		l.PowerW, l.MeanW = 0, 0
		return
	}
	switch l.par.Kind {
	case ConstantLoad:
		l.PowerW, l.MeanW = l.par.PowerW, l.par.PowerW
	case ThermostatLoad:
		if l.RiseC >= l.par.CutOutC {
			l.Calls = false
		} else if l.RiseC <= l.par.CutInC {
			l.Calls = true
		}
		end := 0.0
		l.PowerW = 0
		if l.Calls {
			end, l.PowerW = l.par.HeatedC, l.par.PowerW
		}
		l.RiseC = end + float64((l.RiseC-end)*l.decay)
		l.MeanW = l.PowerW
	case MotorLoad:
		was := l.excess
		l.excess *= l.decay
		if l.excess < 1e-3 {
			l.excess = 0
		}
		l.PowerW = l.par.PowerW + l.excess
		l.MeanW = l.par.PowerW + float64((was-l.excess)*l.tauS)/l.stepS
	case ProfileLoad:
		was := l.PowerW
		l.PowerW = l.profile((tick + 1) * l.stepMS)
		l.MeanW = (was + l.PowerW) / 2
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
