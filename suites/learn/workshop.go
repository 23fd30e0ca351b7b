package learn

import (
	"math"
	"slices"
)

// workshop is the estimation of all inverters of one record. What lies between two samples is common to them: when the
// rest of the site jumped, and how each inverter's power went from one sample to the next.
type workshop struct {
	r     *Record
	rest  []float64
	jumps []jump
	fits  []*fitting
	tries [][]attempt // of each unit, the best first
	// cutOff tells of each unit that its largest power was inferred, not seen.
	cutOff []bool
}

// rivals is how many rhythms of each unit are fitted to the end.
const rivals = 3

func newWorkshop(r *Record) *workshop {
	w := &workshop{r: r, rest: r.restW(), fits: make([]*fitting, len(r.Units)), tries: make([][]attempt, len(r.Units)), cutOff: make([]bool, len(r.Units))}
	w.jumps = jumps(w.rest)
	return w
}

// rough searches a unit's rhythm and start, with straight lines between the samples.
func (w *workshop) rough(i int) {
	u := &w.r.Units[i]
	b := boundsOf(w.r.GridW, u.PowerW, w.r.StepS)
	base := Device{
		Gain: 0.2, PeriodS: 1, RefreshS: 1, DeadS: 0.6, LagS: 0.5, RampWps: steepest(u.PowerW, w.r.StepS),
		ChargeW: b.chargeW, DischargeW: b.dischargeW,
	}
	base.ChargeOpen, base.DischargeOpen = b.chargeW == 0, b.dischargeW == 0
	base = base.limited(unlimitedW)
	base.ChargeOpen, base.DischargeOpen = false, false // until the rest is known
	f := &fitting{keep: 0.5, stretches: []stretch{{w.r.StepS, between(w.rest, w.r.StepS, w.jumps, w.r.Units, nil), u.PowerW}}}
	found := f.search(base, float64(len(w.rest)-1)*w.r.StepS)
	w.fits[i], w.tries[i] = f, found[:min(rivals, len(found))]
	for k := range w.tries[i] {
		w.tries[i][k] = f.settle(w.tries[i][k].device, 1, 8)
	}
	slices.SortStableFunc(w.tries[i], byScore)
}

// models are how each unit's best attempt moves between the samples.
func (w *workshop) models() []series {
	list := make([]series, len(w.r.Units))
	for i := range list {
		d := w.tries[i][0].device
		s := &w.fits[i].stretches[0]
		h := tick(w.r.StepS)
		values, _ := d.respond(s.flow, firstKnown(s.powerW), float64(len(w.rest))*w.r.StepS, w.r.StepS, nil)
		raw := series{h, values}
		moved := series{h, make([]float64, len(raw.values))}
		for n := range moved.values {
			moved.values[n] = raw.at(float64(n)*h - d.PhaseS - d.DeadS)
		}
		list[i] = moved
	}
	return list
}

// place decides when each jump came, by what the units made of it.
func (w *workshop) place() {
	models := w.models()
	lay := func() {
		f := between(w.rest, w.r.StepS, w.jumps, w.r.Units, models)
		for i := range w.fits {
			w.fits[i].stretches[0].flow = f
		}
	}
	lay()
	score := func() float64 {
		sum := 0.0
		for i, f := range w.fits {
			e := f.innovations(f.residuals(w.tries[i][0].device, nil), nil)
			sum += unlikely(e, f.sigmaW) // with the noise of the fit
		}
		return sum
	}
	best := score()
	order := make([]int, len(w.jumps))
	for k := range order {
		order[k] = k
	}
	size := func(k int) float64 { n := w.jumps[k].after; return math.Abs(w.rest[n+1] - w.rest[n]) }
	slices.SortStableFunc(order, func(a, b int) int { return int(math.Copysign(1, size(b)-size(a))) })
	for _, k := range order[:min(len(order), mostJumps)] {
		was := w.jumps[k].share
		for _, share := range []float64{0.1, 0.3, 0.5, 0.7, 0.9} {
			if share == was {
				continue
			}
			kept := w.jumps[k].share
			w.jumps[k].share = share
			lay()
			if s := score(); s < best {
				best = s
			} else {
				w.jumps[k].share = kept
			}
		}
	}
	lay()
}

// mostJumps bounds the work; the largest come first.
const mostJumps = 60

const (
	unlimitedWps = 60_000 // a ramp that holds nothing back [W/s]
	rampLead     = 10     // by how much a ramp must make the log more likely, in units of log-likelihood
)

// refine fits a unit's attempts anew.
func (w *workshop) refine(i int) {
	f := w.fits[i]
	if !w.tries[i][0].device.tooQuick(w.r.StepS) {
		w.limits(i)
	}
	for k := range w.tries[i] {
		w.tries[i][k] = f.settle(w.tries[i][k].device, 1, 8)
	}
	slices.SortStableFunc(w.tries[i], byScore)
}

// again searches a unit's rhythm anew.
func (w *workshop) again(i int) {
	found := w.fits[i].again(w.tries[i][0].device, float64(len(w.rest)-1)*w.r.StepS)
	w.tries[i] = found[:min(rivals, len(found))]
}

// tooQuick says that all loops are, as far as is known.
func (w *workshop) tooQuick() bool {
	for _, t := range w.tries {
		if !t[0].device.tooQuick(w.r.StepS) {
			return false
		}
	}
	return true
}

// score is how unlikely the best attempts make the log.
func (w *workshop) score() float64 {
	sum := 0.0
	for _, t := range w.tries {
		sum += t[0].score
	}
	return sum
}

func (w *workshop) conclude(i int) *Learned {
	best := w.tries[i][0]
	l := &Learned{Name: w.r.Units[i].Name, Device: best.device, SigmaW: best.sigmaW}
	lead := math.Inf(1)
	for _, a := range w.tries[i][1:] {
		lead = min(lead, a.score-best.score)
	}
	f := w.fits[i]
	l.conclude(f, best.device, w.r.StepS, lead)
	if free := best.device; l.Ramp.Identifiable {
		free.RampWps = unlimitedWps
		if f.settle(free, 1, 5).score < best.score+rampLead {
			l.Ramp.Identifiable, l.Ramp.Why = false, "an output without a ramp limit explains the log about as well"
		}
		f.attempt(best.device)
	}
	u := &w.r.Units[i]
	l.Obeys = math.NaN()
	if u.CommandW != nil {
		l.Obeys = obeys(u, w.r.StepS)
	}
	r := f.residuals(best.device, nil)
	for n := range r {
		l.ModelW = append(l.ModelW, u.PowerW[n]-r[n])
	}
	l.Native = explained(u.PowerW, r)
	b := boundsOf(w.r.GridW, u.PowerW, w.r.StepS)
	asked := f.askedW(best.device)
	var most *Estimate
	if w.cutOff[i] {
		most = &l.most
	} else {
		l.most = Estimate{}
	}
	l.ChargeLimit = limit(b.chargeW, b.peakW, asked, most, "charging")
	l.DischargeLimit = limit(b.dischargeW, b.peakW, asked, most, "discharging")
	return l
}
