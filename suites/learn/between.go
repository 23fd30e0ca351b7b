package learn

import (
	"math"
	"slices"
)

// jump is a sudden change of the rest of the site between two samples. When it came lies between them, and matters: a
// loop that sampled before it acts a period later than one that sampled after.
type jump struct {
	after int     // the last sample before it
	share float64 // of the sampling interval at which it came [1]
}

// usualW is how much the rest of the site usually changes from one sample to the next, one standard deviation [W]: what jumps are does not
// shape it [1.4826 makes the median of sizes one].
func usualW(restW []float64) float64 {
	var sizes []float64
	for n := 1; n < len(restW); n++ {
		if d := restW[n] - restW[n-1]; !math.IsNaN(d) {
			sizes = append(sizes, math.Abs(d))
		}
	}
	if len(sizes) == 0 {
		return 0
	}
	slices.Sort(sizes)
	return 1.4826 * sizes[len(sizes)/2]
}

// jumps finds where the rest of the site changes by far more than it usually does from one sample to the next.
func jumps(restW []float64) []jump {
	limit := max(8*usualW(restW), 60)
	var list []jump
	for n := 1; n < len(restW); n++ {
		if d := restW[n] - restW[n-1]; math.Abs(d) > limit {
			list = append(list, jump{after: n - 1, share: 0.5})
		}
	}
	return list
}

// between lays the rest of the site and what the units did on one flow, finer than the log. models say how each unit's power
// went from one sample to the next; what they miss at the samples is spread in a straight line. Without a model it goes in a
// straight line.
func between(rest []float64, stepS float64, list []jump, units []Unit, models []series) flow {
	h := tick(stepS)
	per := int(math.Round(stepS / h))
	shares := make(map[int]float64, len(list))
	for _, j := range list {
		shares[j.after] = j.share
	}
	out := flow{everyS: h, values: make([]float64, (len(rest)-1)*per+1)}
	for n := range rest[:len(rest)-1] {
		share, sudden := shares[n]
		for m := range per {
			x := float64(m) / float64(per)
			v := rest[n] + (rest[n+1]-rest[n])*x
			if sudden {
				v = rest[n]
				if x >= share {
					v = rest[n+1]
				}
			}
			for i := range units {
				a, b := units[i].PowerW[n], units[i].PowerW[n+1]
				if i < len(models) && models[i].values != nil {
					from := float64(n) * stepS
					a -= models[i].at(from)
					b -= models[i].at(from + stepS)
					v += models[i].at(from + x*stepS)
				}
				v += a + (b-a)*x
			}
			out.values[n*per+m] = v
		}
	}
	last := len(rest) - 1
	v := rest[last]
	for i := range units {
		v += units[i].PowerW[last]
	}
	out.values[last*per] = v
	return out
}
