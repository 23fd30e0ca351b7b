package trust

import (
	"math"

	"kilter/physics"
)

// idle is the story with the batteries at rest, in which nothing answers to them.
type idle struct {
	netLoadW       []float64 // at the end of each tick
	risesW, fallsW float64   // how far it goes up, and down, all together
	movedWh        float64   // what the batteries could be asked to move at most
}

func (k *Case) idle() (r idle, err error) {
	p, err := physics.New(k.Site)
	if err != nil {
		return r, err
	}
	for i := range p.Inverters {
		p.SetMode(i, physics.Hold)
	}
	most := ratingsW(&k.Site)
	happens := k.story.events
	r.netLoadW = make([]float64, k.story.lasts)
	for tick := range k.story.lasts {
		for len(happens) > 0 && happens[0].at <= tick {
			p.Apply(happens[0].action)
			happens = happens[1:]
		}
		was := p.NetLoadW
		p.Step()
		r.netLoadW[tick] = p.NetLoadW
		if d := p.NetLoadW - was; d > 0 {
			r.risesW += d
		} else {
			r.fallsW -= d
		}
		r.movedWh += min(math.Abs(p.NetLoadW), most) * stepS / 3600
	}
	return r, nil
}
