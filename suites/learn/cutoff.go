package learn

import "slices"

// limits looks for a largest power that the log never shows, but that the loop ran into: what it wanted was cut off there while a
// ramp still held the output back. It is taken where it makes the log more likely than none does.
func (w *workshop) limits(i int) {
	f, first := w.fits[i], &w.tries[i][0]
	b := boundsOf(w.r.GridW, w.r.Units[i].PowerW, w.r.StepS)
	if b.chargeW > 0 && b.dischargeW > 0 {
		return
	}
	open := first.device
	open.ChargeOpen, open.DischargeOpen = b.chargeW == 0, b.dischargeW == 0
	none := open.limited(unlimitedW)
	none.ChargeOpen, none.DischargeOpen = false, false
	free := f.settle(none, 1, 6)
	asked := f.askedW(free.device)
	var starts []attempt
	for most := b.peakW; most < asked; most *= 1.1 {
		var here []attempt
		for _, more := range []float64{1, 1.15, 1.35} { // without a limit a smaller gain stands for it,
			for _, keep := range []float64{1, 0} { // and an offset
				d := open.limited(most)
				d.Gain *= more
				d.OffsetW *= keep
				here = append(here, f.attempt(d))
			}
		}
		slices.SortStableFunc(here, byScore)
		a := here[0]
		if !w.cutOff[i] {
			a = f.settle(a.device, 1, 3)
		}
		starts = append(starts, a)
	}
	if w.cutOff[i] {
		starts = append(starts, f.attempt(open))
	}
	slices.SortStableFunc(starts, byScore)
	best := free
	for _, a := range starts[:min(3, len(starts))] {
		if a = f.settle(a.device, 2, 4); a.score < best.score {
			best = a
		}
	}
	w.cutOff[i] = best.score < free.score-limitLead
	if !w.cutOff[i] {
		best = free
	}
	*first = best
	f.attempt(best.device)
	for k := range w.tries[i][1:] {
		d := &w.tries[i][k+1].device
		d.ChargeW, d.DischargeW = best.device.ChargeW, best.device.DischargeW
		d.ChargeOpen, d.DischargeOpen = best.device.ChargeOpen, best.device.DischargeOpen
	}
}

// limitLead is by how much a largest power that was never seen must make the log more likely, in units of log-likelihood. A jump that is
// placed wrong makes limits look likely by some tens; the figure is from the twin experiments (twin_test.go), and has no other source.
const limitLead = 100
