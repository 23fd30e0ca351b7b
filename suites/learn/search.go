package learn

import (
	"cmp"
	"math"
	"slices"
)

// periods are the loop periods that are tried [s].
var periods = []float64{0.5, 1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30}

// rhythm is a loop period and the refresh interval of its meter [s].
type rhythm struct{ periodS, refreshS float64 }

// rhythms are the candidates for a log of a step and a length. Periods under the step look like ones of the step, with the gain to
// match, and are not told apart from them; nor are those of which the log holds only a few.
func rhythms(stepS, spanS float64) []rhythm {
	var list []rhythm
	for _, p := range periods {
		if p < min(stepS, 1) || p > spanS/15 {
			continue
		}
		list = append(list, rhythm{p, p})
		if p > 2 {
			continue
		}
		for _, r := range []float64{2, 3, 5, 10} {
			if r > p && r >= stepS && math.Mod(r, p) == 0 && r <= spanS/15 {
				list = append(list, rhythm{p, r})
			}
		}
	}
	return list
}

// attempt is a device that was fitted, and how much it leaves unexplained.
type attempt struct {
	device Device
	sigmaW float64
	score  float64 // how unlikely it makes the log; the least is best
}

// unlikely is the negative log-likelihood of innovations under a noise with wide tails, up to a constant.
func unlikely(e []float64, sigmaW float64) float64 {
	sum, n := 0.0, 0
	for _, v := range e {
		if !math.IsNaN(v) {
			z := v / (3 * sigmaW)
			sum += math.Log1p(z * z)
			n++
		}
	}
	return float64(n)*math.Log(sigmaW) + 4.5*sum
}

// settle fits a device from a start, with a noise model that follows the fit.
func (f *fitting) settle(d Device, rounds, iterations int) attempt {
	for range rounds {
		f.weigh(f.residuals(d, nil))
		d, _ = f.polish(d, iterations)
	}
	return f.attempt(d)
}

func (f *fitting) attempt(d Device) attempt {
	d = d.wrapped()
	r := f.residuals(d, nil)
	f.weigh(r)
	return attempt{d, f.sigmaW, unlikely(f.innovations(r, nil), f.sigmaW)}
}

// search fits every rhythm from several starts, and gives the best of each, the best first.
func (f *fitting) search(base Device, spanS float64) []attempt {
	var best []attempt
	for _, r := range rhythms(f.stretches[0].stepS, spanS) {
		var starts []attempt
		phases := int(min(max(math.Round(r.refreshS/0.25), 2), 8))
		for i := range phases {
			for _, gain := range []float64{0.1, 0.3} {
				d := base
				d.PeriodS, d.RefreshS = r.periodS, r.refreshS
				d.PhaseS = r.refreshS * (float64(i) + 0.3) / float64(phases)
				d.Gain = gain
				starts = append(starts, f.attempt(d))
			}
		}
		slices.SortStableFunc(starts, byScore)
		starts = starts[:min(2, len(starts))]
		for i := range starts {
			starts[i] = f.settle(starts[i].device, 1, 3)
		}
		slices.SortStableFunc(starts, byScore)
		best = append(best, starts[0])
	}
	slices.SortStableFunc(best, byScore)
	return best
}

// again fits every rhythm anew from what was found, with the phase anywhere: once the flow between the samples and the limits are known
// better, another rhythm may do better too. It gives the best of each, the best first.
func (f *fitting) again(found Device, spanS float64) []attempt {
	list := rhythms(f.stretches[0].stepS, spanS)
	starts := make([][]attempt, len(list))
	for k, r := range list {
		phases := int(min(max(math.Round(r.refreshS/0.125), 4), 16))
		for i := range phases {
			d := found
			d.PeriodS, d.RefreshS = r.periodS, r.refreshS
			d.PhaseS = r.refreshS * (float64(i) + 0.3) / float64(phases)
			d.Gain = found.Gain / found.PeriodS * r.periodS
			// The log shows when the output answers; to which sample, the jumps must tell.
			wait := found.PhaseS + found.DeadS - d.PhaseS
			for d.DeadS = wait - r.periodS*math.Floor(wait/r.periodS); d.DeadS < found.DeadS+1.5*r.periodS; d.DeadS += r.periodS {
				starts[k] = append(starts[k], f.attempt(d))
			}
		}
		slices.SortStableFunc(starts[k], byScore)
		starts[k][0] = f.settle(starts[k][0].device, 1, 3)
	}
	slices.SortStableFunc(starts, func(a, b []attempt) int { return byScore(a[0], b[0]) })
	best := []attempt{f.attempt(found)}
	for _, s := range starts[:min(rivals, len(starts))] {
		for i, a := range s[:min(3, len(s))] {
			if a = f.settle(a.device, 1, 5); i == 0 || a.score < s[0].score {
				s[0] = a
			}
		}
		if d := s[0].device; d.PeriodS != found.PeriodS || d.RefreshS != found.RefreshS {
			best = append(best, s[0])
		} else if s[0].score < best[0].score {
			best[0] = s[0]
		}
	}
	slices.SortStableFunc(best, byScore)
	return best
}

func byScore(a, b attempt) int { return cmp.Compare(a.score, b.score) }
