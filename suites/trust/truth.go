package trust

import (
	"math"

	"kilter/physics"
)

// ringDown is what hours of its own show of a case: the same site, controller and
// meters, batteries so large that they do not matter, and one given power. Ramp
// limits let a loop that is stable for small signals swing for ever once it has
// been kicked, and no linear system shows that.
type ringDown struct {
	// LastW is the largest amplitude of the batteries' total that would not die away.
	LastW float64
	// Seconds is how long, after the hardest kick, the total went on leaving a range
	// of half the bound on hunting about its last value.
	Seconds float64
}

const (
	minute = 600 // ticks
	hour   = 60 * minute
)

// ringDown kicks the case hard, and lets it rest in the middle of its own story.
func (k *Case) ringDown(netLoadW []float64) (r ringDown, err error) {
	for _, faster := range []bool{false, true} {
		total, last, err := k.given(hour, kicks(0.9*ratingsW(&k.Site), faster))
		if err != nil {
			return r, err
		}
		w, middle := spanOf(total[hour/2:])
		r.LastW = max(r.LastW, w)
		for tick := hour - 1; tick > int(last); tick-- {
			if math.Abs(total[tick]-middle) > huntingW/2 {
				r.Seconds = max(r.Seconds, float64(tick-int(last))*stepS)
				break
			}
		}
	}
	for _, rest := range []func([]float64) (float64, error){k.rests, k.end} {
		w, err := rest(netLoadW)
		if err != nil {
			return r, err
		}
		r.LastW = max(r.LastW, w)
	}
	return r, nil
}

// end plays the story's net load up to its quiet tail, and keeps it as it is for an
// hour. It returns the amplitude of the last half of that.
func (k *Case) end(netLoadW []float64) (amplitudeW float64, err error) {
	total, _, err := k.given(k.story.quiet+hour, func(tick int64) float64 {
		return netLoadW[min(tick, k.story.quiet)]
	})
	if err != nil {
		return 0, err
	}
	amplitudeW, _ = spanOf(total[k.story.quiet+hour/2:])
	return amplitudeW, nil
}

// kicks is a given power that goes to and fro for twelve minutes at every pace from
// 2 s to most of a minute, faster or slower each time, and then stays.
func kicks(powerW float64, faster bool) func(tick int64) float64 {
	given, next := 0.0, int64(minute)
	return func(tick int64) float64 {
		if tick == next && tick < 12*minute {
			// Each pause is a fifteenth longer, or shorter, than the one before.
			pause := tick / 15
			if faster {
				pause = (12*minute - tick) / 15
			}
			given, next = powerW, tick+max(pause, 20)
			powerW = -powerW
		}
		return given
	}
}

// rests plays the story's net load, and at five times on the way keeps it as it is
// for twelve minutes: an hour in all. It returns the largest amplitude of the last
// minutes of a rest that is not on its way to vanish.
func (k *Case) rests(netLoadW []float64) (amplitudeW float64, err error) {
	const rest = 12 * minute
	c := newChance(k.Site.Seed, "rests")
	busy := k.story.quiet
	var starts []int64 // of the rests, on their own clock
	part := busy / 5
	for i := range int64(5) {
		starts = append(starts, i*(part+rest)+c.Int64N(part)+1)
	}
	at, resting := int64(0), 0
	total, _, err := k.given(busy+5*rest, func(tick int64) float64 {
		for resting < len(starts) && tick >= starts[resting]+rest {
			resting++
		}
		if resting == len(starts) || tick < starts[resting] {
			at++
		}
		return netLoadW[min(at, busy)]
	})
	if err != nil {
		return 0, err
	}
	for _, s := range starts {
		early, _ := spanOf(total[s+5*minute : s+8*minute])
		late, _ := spanOf(total[s+9*minute : s+rest])
		if late > early/2 {
			amplitudeW = max(amplitudeW, late)
		}
	}
	return amplitudeW, nil
}

// given plays the case under a given power; it returns the batteries' total of each
// tick, and when the power last moved.
func (k *Case) given(lasts int64, powerW func(tick int64) float64) (total []float64, last int64, err error) {
	s := k.Site
	s.Arrays, s.Chargers = nil, nil
	s.Loads = []physics.LoadParams{{Name: "given", On: true}}
	s.Inverters = append([]physics.InverterParams(nil), s.Inverters...)
	for i := range s.Inverters {
		b := &s.Inverters[i].Battery
		b.CapacityWh, b.InitialSOC, b.ReserveSOC = 1e7, 0.5, 0
	}
	p, err := physics.New(s)
	if err != nil {
		return nil, 0, err
	}
	d := newDesk(k, p)
	total = make([]float64, lasts)
	was := 0.0
	for tick := range lasts {
		if w := powerW(tick); w != was {
			p.Apply(physics.SetLoad{Load: 0, PowerW: w})
			was, last = w, tick
		}
		d.act(tick)
		p.Step()
		total[tick] = p.GridW - p.NetLoadW
	}
	return total, last, nil
}

// spanOf is half of peak to peak, and the middle.
func spanOf(values []float64) (amplitude, middle float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, w := range values {
		low, high = min(low, w), max(high, w)
	}
	return (high - low) / 2, (high + low) / 2
}
