package trust

import (
	"fmt"
	"math"

	"kilter/physics"
)

// Case is one drawn site with its controller and its story.
type Case struct {
	Kind   Kind
	Number int
	Design design
	Site   physics.Site

	tuning tuning
	story  story

	// Radius is the spectral radius per poll, and Sound that of the same controller
	// tuned as its author meant it: the limits are derived from the latter.
	Radius, Sound float64
	// Of is the gain as a multiple of that at which the system begins to swing.
	Of float64
	// Drawn is how many draws it took to find one of its kind.
	Drawn int
	// Rings is how the case rings down.
	Rings ringDown
	// Shares says that it is the share of the total that was tuned too high, and not
	// a loop's gain: the inverters then swing against each other.
	Shares bool
}

// Kind says by what truth a case is drawn.
type Kind uint8

const (
	// Stable cases have a spectral radius below 0.97.
	Stable Kind = iota
	// Unstable cases have one above 1.03.
	Unstable
)

func (k Kind) String() string { return [...]string{"stable", "unstable"}[k] }

// Name is how the case is called, for instance stable-17.
func (k *Case) Name() string { return fmt.Sprintf("%v-%d", k.Kind, k.Number) }

const (
	stableBelow   = 0.97
	unstableAbove = 1.03
)

// drawCase draws the case of a number; a draw that is not clearly stable or unstable
// is drawn again.
func drawCase(kind Kind, number int, seed uint64) (k *Case, rest idle, err error) {
	for drawn := 1; ; drawn++ {
		c := newChance(seed, fmt.Sprintf("%v-%d-%d", kind, number, drawn))
		k = &Case{Kind: kind, Number: number, Design: design(number % int(designs)), Site: drawSite(c), Drawn: drawn}
		k.tuning = drawTuning(c, k.Design)
		k.story = drawStory(c, &k.Site)
		if !k.tune(c) {
			continue
		}
		k.story.lasts = k.story.quiet + 1
		if rest, err = k.idle(); err != nil {
			return nil, rest, err
		}
		if kind == Stable {
			if k.Rings, err = k.ringDown(rest.netLoadW); err != nil {
				return nil, rest, err
			}
			if k.Rings.LastW > huntingW/2 {
				continue
			}
		}
		k.story.lasts = k.story.quiet + k.tail()
		rest, err = k.idle()
		return k, rest, err
	}
}

// tune sets the gains as a multiple of the case's own limit, and says whether the
// case is of its kind.
func (k *Case) tune(c chance) bool {
	for i := range k.Site.Inverters {
		k.Site.Inverters[i].Loop.Gain = c.between(0.5, 1.5) // of the same limit
	}
	first := k.limit(math.Max)
	sound := c.between(0.2, 0.5)
	if k.Kind == Stable {
		k.Of = c.between(0.15, 0.85)
		k.scale(first * k.Of)
		k.Radius = k.radius(math.Max)
		k.Sound = k.Radius
		return k.Radius < stableBelow
	}
	last := first
	if k.Design == pause {
		last = k.limit(math.Min)
	}
	k.scale(first * sound)
	k.Sound = k.radius(math.Max)
	if k.Sound >= stableBelow {
		return false
	}
	if k.Design == trim && c.happens(0.3) {
		k.Shares, k.Of = true, c.mostly(1.01, 1.6)
		k.tuning.share = k.shareLimit() * k.Of
	} else {
		k.Of = c.mostly(1.01, 2.5)
		k.scale(last * k.Of / (first * sound))
	}
	k.Radius = k.radius(math.Min)
	return k.Radius > unstableAbove
}

// scale multiplies the gain that a limit is looked for.
func (k *Case) scale(by float64) {
	if k.Design == central {
		k.tuning.gain *= by
		return
	}
	for i := range k.Site.Inverters {
		k.Site.Inverters[i].Loop.Gain *= by
	}
}

// radius is the most, or the least, of all inverters at work together and each
// alone: some may be paused, full or empty. A stable case is stable in any of these
// ways, and no pause cures an unstable one.
func (k *Case) radius(worst func(x, y float64) float64) float64 {
	r := newLoop(k, -1).radius()
	for i := range k.Site.Inverters {
		if k.Design == pause || worst(0, 1) == 1 {
			r = worst(r, newLoop(k, i).radius())
		}
	}
	return r
}

// limit is the multiple of the present gains at which the system begins to swing:
// with math.Max in any way of being at work, with math.Min in all of them.
func (k *Case) limit(worst func(x, y float64) float64) float64 {
	u, site := k.tuning, append([]physics.InverterParams(nil), k.Site.Inverters...)
	defer func() { k.tuning, k.Site.Inverters = u, site }()
	return firstUnstable(func(g float64) float64 {
		k.tuning, k.Site.Inverters = u, append([]physics.InverterParams(nil), site...)
		k.scale(g)
		return k.radius(worst)
	})
}

// shareLimit is the share at which the setpoints begin to swing.
func (k *Case) shareLimit() float64 {
	u := k.tuning
	defer func() { k.tuning = u }()
	return firstUnstable(func(g float64) float64 {
		k.tuning.share = g
		return newLoop(k, -1).radius()
	})
}

// firstUnstable finds, from below, where a radius reaches 1.
func firstUnstable(radius func(float64) float64) float64 {
	high := 0.01
	for radius(high) < 1 && high < 100 {
		high *= 1.5
	}
	low := high / 1.5
	for range 12 {
		if mid := (low + high) / 2; radius(mid) < 1 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// polls is how many polls a disturbance of so many W needs to fall to a level.
func (k *Case) polls(from, to float64) float64 {
	return math.Log(max(1, from/to)) / -math.Log(min(max(k.Sound, 0.05), stableBelow))
}
