package trust

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// loop is the sampled system of a case for small signals: no ramp limit, rating,
// deadband, noise or resolution. It is written from what the parts are said to do,
// and shares no code with the plant: meters that sample and tell later, dead times
// and lags that are held over a tick, loops that integrate what a meter tells, and
// a controller that polls.
//
// All its periods divide one common period, so that the state a period later is a
// linear map of the state now. The largest magnitude among that map's eigenvalues,
// per poll, is the spectral radius:
//
//	rho = max |eigenvalue| ^ (poll / common period)
//
// Inverters that follow meters of their own are free to part without anything
// showing at the inlet; each such freedom is an eigenvalue of exactly 1, says
// nothing about oscillation, and is left out.
type loop struct {
	design    design
	u         tuning
	inverters []loopInverter
	grid      loopMeter
	period    int64
	size      int
}

// loopMeter holds samples of the grid flow, the latest first.
type loopMeter struct {
	refresh, phase, latency int64
	gain                    float64
	at, kept                int
}

// loopInverter is an output y that follows what was wanted.
type loopInverter struct {
	dead, period, phase int64
	keep                float64 // what the lag leaves of a difference in a tick
	gain                float64 // of its own loop; 0 where it is told setpoints
	part                float64 // of the total, where it is told setpoints
	meter               loopMeter

	output, wanted, kept int
}

// newLoop makes the small-signal system of a case; only is the one inverter at
// work, or -1 for all.
func newLoop(k *Case, only int) *loop {
	s := &k.Site
	l := &loop{design: k.Design, u: k.tuning, period: k.tuning.poll}
	place := func(n int) int { l.size += n; return l.size - n }
	meter := func(i int) loopMeter {
		p := &s.Meters[i]
		m := loopMeter{refresh: wholeTicks(p.RefreshS), phase: wholeTicks(p.PhaseS), latency: wholeTicks(p.LatencyS), gain: 1 + p.GainError}
		m.kept = int(m.latency/m.refresh) + 2
		m.at = place(m.kept)
		l.period = common(l.period, m.refresh)
		return m
	}
	total := ratingsW(s)
	if only >= 0 {
		total = s.Inverters[only].RatingW
	}
	if k.Design != pause {
		l.grid = meter(0)
	}
	for i := range s.Inverters {
		if only >= 0 && only != i {
			continue
		}
		p := &s.Inverters[i]
		v := loopInverter{dead: wholeTicks(p.DeadTimeS), part: p.RatingW / total}
		if p.LagS > 0 {
			v.keep = math.Exp(-stepS / p.LagS)
		}
		if k.Design.native(i) {
			v.gain, v.period, v.phase = p.Loop.Gain, wholeTicks(p.Loop.PeriodS), wholeTicks(p.Loop.PhaseS)
			v.meter = meter(i + 1)
			l.period = common(l.period, v.period)
		} else {
			// A setpoint acts a link's time after the poll, and the dead time later.
			v.dead += k.tuning.link
			v.period, v.phase = k.tuning.poll, k.tuning.phase
		}
		v.kept = int(v.dead/v.period) + 2
		v.output, v.wanted = place(1), place(v.kept)
		l.inverters = append(l.inverters, v)
	}
	return l
}

func wholeTicks(seconds float64) int64 { return int64(seconds/stepS + 0.5) }

// common is the least common multiple.
func common(a, b int64) int64 {
	x, y := a, b
	for y != 0 {
		x, y = y, x%y
	}
	return a / x * b
}

// since is how many instants of a schedule lie in the time that ended now and was
// so long: the place of what was latest before it.
func since(now, period, phase, long int64) int {
	return int(floorDiv(now-phase, period) - floorDiv(now-long-phase, period))
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

func due(now, period, phase int64) bool { return (now-phase)%period == 0 }

// shift makes room for a new value at the front.
func shift(x []float64, at, kept int, value float64) {
	copy(x[at+1:at+kept], x[at:at+kept-1])
	x[at] = value
}

// advance moves the state by one common period.
func (l *loop) advance(x []float64) {
	for now := range l.period {
		if due(now, l.u.poll, l.u.phase) {
			l.poll(now, x)
		}
		flow := 0.0
		for i := range l.inverters {
			v := &l.inverters[i]
			if v.gain != 0 && due(now, v.period, v.phase) {
				m := &v.meter
				told := x[m.at+since(now, m.refresh, m.phase, m.latency)]
				shift(x, v.wanted, v.kept, x[v.wanted]-v.gain*told)
			}
			want := x[v.wanted+since(now, v.period, v.phase, v.dead)]
			x[v.output] = want + (x[v.output]-want)*v.keep
			flow += x[v.output]
		}
		if l.design != pause {
			l.grid.sample(now+1, x, flow)
		}
		for i := range l.inverters {
			if v := &l.inverters[i]; v.gain != 0 {
				v.meter.sample(now+1, x, flow)
			}
		}
	}
}

func (m *loopMeter) sample(now int64, x []float64, flow float64) {
	if due(now, m.refresh, m.phase) {
		shift(x, m.at, m.kept, m.gain*flow)
	}
}

// poll lets the controller decide on what it sees at the beginning of a tick.
func (l *loop) poll(now int64, x []float64) {
	switch l.design {
	case central:
		m := &l.grid
		total := -l.u.gain * x[m.at+since(now, m.refresh, m.phase, m.latency)]
		for i := range l.inverters {
			total += x[l.inverters[i].wanted]
		}
		for i := range l.inverters {
			v := &l.inverters[i]
			shift(x, v.wanted, v.kept, v.part*total)
		}
	case trim:
		m := &l.grid
		need := -x[m.at+since(now, m.refresh, m.phase, m.latency)]
		for i := range l.inverters {
			need += x[l.inverters[i].output]
		}
		for i := range l.inverters {
			if v := &l.inverters[i]; v.gain == 0 {
				shift(x, v.wanted, v.kept, x[v.wanted]+l.u.share*(v.part*need-x[v.wanted]))
			}
		}
	}
}

// radius is the spectral radius per poll.
func (l *loop) radius() float64 {
	n := l.size
	a := mat.NewDense(n, n, nil)
	x := make([]float64, n)
	for k := range n {
		clear(x)
		x[k] = 1
		l.advance(x)
		a.SetCol(k, x)
	}
	var eigen mat.Eigen
	if !eigen.Factorize(a, mat.EigenNone) {
		return math.NaN()
	}
	free := 0
	if l.design == pause {
		free = len(l.inverters) - 1
	}
	most := 0.0
	for _, z := range eigen.Values(nil) {
		if free > 0 && cmplx.Abs(z-1) < 1e-4 {
			free--
			continue
		}
		most = max(most, cmplx.Abs(z))
	}
	return math.Pow(most, float64(l.u.poll)/float64(l.period))
}
