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
	if base.ChargeW == 0 {
		base.ChargeW = 2*b.peakW + 1000
	}
	if base.DischargeW == 0 {
		base.DischargeW = 2*b.peakW + 1000
	}
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
		raw := series{h, d.respond(s.flow, firstKnown(s.powerW), float64(len(w.rest))*w.r.StepS, w.r.StepS, nil)}
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

// limits looks for a largest power that the log never shows, but that the loop ran into: what it wanted was cut off there while a
// ramp still held the output back. It is taken where it makes the log far more likely.
func (w *workshop) limits(i int) {
	f, first := w.fits[i], &w.tries[i][0]
	b := boundsOf(w.r.GridW, w.r.Units[i].PowerW, w.r.StepS)
	if b.chargeW > 0 && b.dischargeW > 0 {
		return
	}
	with := func(d Device, most float64) Device {
		if b.chargeW == 0 {
			d.ChargeW = most
		}
		if b.dischargeW == 0 {
			d.DischargeW = most
		}
		return d
	}
	base := f.settle(first.device, 1, 4)
	best := base
	for _, share := range []float64{1.1, 1.2, 1.35, 1.5} {
		for _, more := range []float64{1, 1.3} { // without a limit a smaller gain stands for it
			d := with(first.device, share*b.peakW)
			d.Gain *= more
			if a := f.settle(d, 1, 4); a.score < best.score {
				best = a
			}
		}
	}
	if best.score > base.score-limitLead {
		f.attempt(first.device)
		return
	}
	for _, step := range []float64{0.04, 0.02, 0.01} {
		for _, sign := range []float64{-1, 1} {
			most := max(best.device.ChargeW, best.device.DischargeW)
			if b.chargeW == 0 && b.dischargeW > 0 {
				most = best.device.ChargeW
			} else if b.dischargeW == 0 && b.chargeW > 0 {
				most = best.device.DischargeW
			}
			most *= 1 + sign*step
			if most < unseenShare*b.peakW {
				continue // it would have been seen to stand there
			}
			if a := f.settle(with(best.device, most), 1, 4); a.score < best.score {
				best = a
			}
		}
	}
	*first = best
	w.cutOff[i] = true
	for k := range w.tries[i][1:] {
		t := &w.tries[i][k+1]
		t.device.ChargeW, t.device.DischargeW = best.device.ChargeW, best.device.DischargeW
	}
}

// limitLead is by how much a largest power that was never seen must make the log more likely, in units of log-likelihood.
const limitLead = 200

// unseenShare is how far above the largest power that was seen a limit lies at least that was not [1].
const unseenShare = 1.06

const (
	unlimitedWps = 60_000 // a ramp that holds nothing back [W/s]
	rampLead     = 10     // by how much a ramp must make the log more likely, in units of log-likelihood
)

// refine fits a unit's attempts anew.
func (w *workshop) refine(i int) {
	w.limits(i)
	f := w.fits[i]
	for k := range w.tries[i] {
		w.tries[i][k] = f.settle(w.tries[i][k].device, 1, 8)
	}
	slices.SortStableFunc(w.tries[i], byScore)
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
	l.ChargeLimit = limit(b.chargeW, b.peakW, best.device.ChargeW, w.cutOff[i], "charging")
	l.DischargeLimit = limit(b.dischargeW, b.peakW, best.device.DischargeW, w.cutOff[i], "discharging")
	return l
}
