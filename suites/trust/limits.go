package trust

import (
	"fmt"
	"math"
	"time"

	"kilter/suites/criteria"
)

// limits are derived from the site as those of the built-in stories are: from
// what meters, link, polls, dead times, ramps and lags cost, from the decay of the
// loop as its author tuned it, and from the loads that the story names. What the
// controller then does plays no part in them.
type limits struct {
	seeS   float64 // until a controller knows of a change and its order takes effect
	moveS  float64 // until the batteries have carried out a change of the largest step
	decayS float64 // until what is left of it has died away
	ringS  float64 // how long it rings down after the hardest kick
}

const (
	bandW       = 200
	huntingW    = 150
	circulateW  = 120
	leastQuietS = 120
)

func (k *Case) limits(level float64) (l limits) {
	s := &k.Site
	meterS, dead, lag := 0.0, 0.0, 0.0
	for i := range s.Meters {
		m := &s.Meters[i]
		meterS = max(meterS, m.RefreshS+m.LatencyS)
	}
	for i := range s.Inverters {
		v := &s.Inverters[i]
		dead, lag = max(dead, v.DeadTimeS+v.Loop.PeriodS), max(lag, v.LagS)
	}
	pollS := float64(k.tuning.poll) * stepS
	l.seeS = 2*pollS + meterS + float64(k.tuning.link)*stepS
	// The slowest goes from its rating one way to its rating the other way.
	l.moveS = dead + 2*slowestS(s) + 3*lag
	if k.Kind == Stable {
		l.ringS = k.Rings.Seconds
	}
	l.decayS = pollS * k.polls(k.story.largest, level)
	return l
}

// answerS is how long the site may take to answer its largest step. Where ramps make
// it ring for longer than that, its author has seen so: ringS.
func (l *limits) answerS() float64 { return max(l.seeS+l.moveS+l.decayS, 1.2*l.ringS) }

// up rounds up to tens of seconds, as an author does.
func up(seconds float64) time.Duration {
	return 10 * time.Second * time.Duration(math.Ceil(seconds/10))
}

// gone is after how long nothing may swing any more: twice what the answer takes.
func (k *Case) gone() time.Duration {
	l := k.limits(huntingW / 2)
	return min(max(up(2*l.answerS()), leastQuietS*time.Second), 30*time.Minute)
}

// tail is how long the story stays quiet: until all must be gone, and for twice
// that time, or five minutes, more.
func (k *Case) tail() int64 {
	gone := k.gone()
	return int64((gone + max(5*time.Minute, 2*gone)).Seconds() / stepS)
}

// monitors are all criteria that apply, with the case's limits. rest is what the
// story does with the batteries at rest.
func (k *Case) monitors(rest *idle) ([]criteria.Monitor, error) {
	const step = stepMS * time.Millisecond
	s := &k.Site
	l := k.limits(bandW)
	var list []criteria.Monitor
	var bad error
	add := func(m criteria.Monitor, err error) {
		if err != nil && bad == nil {
			bad = fmt.Errorf("%s: %w", k.Name(), err)
		}
		list = append(list, m)
	}
	names, hours := make([]string, len(s.Inverters)), float64(k.story.lasts)*stepS/3600
	fullest, emptiest, weakest := 0.0, 1.0, math.Inf(1)
	for i := range s.Inverters {
		v := &s.Inverters[i]
		names[i] = v.Name
		fullest, emptiest = max(fullest, v.Battery.InitialSOC), min(emptiest, v.Battery.InitialSOC)
		weakest = min(weakest, v.Battery.CapacityWh)
	}
	answer := up(l.answerS())

	// The batteries could serve the site alone; where they cannot, the criteria know.
	add(criteria.NewImport(criteria.FlowLimit{BelowW: 1000, Except: answer}, step))
	add(criteria.NewExport(criteria.FlowLimit{BelowW: 1000, Except: answer}, step))
	add(criteria.NewSettle(criteria.Settle{BandW: bandW, Within: up(2 * l.answerS())}, step))
	add(criteria.NewHunting(criteria.Hunting{BelowW: huntingW, GoneWithin: k.gone()}, step))
	add(criteria.NewCirculating(criteria.Circulating{BelowW: circulateW, Except: k.parted()}, step))
	// The spread at the start, and all that the site draws or spares borne by one alone.
	add(criteria.NewSOCSpread(criteria.SOCSpread{
		Below: min(1, fullest-emptiest+rest.movedWh/0.9/weakest+0.01), Names: names}, step))
	add(criteria.NewReserve(criteria.Reserve{Below: 0.01, Except: answer, Names: names}, step))
	add(criteria.NewSupplyCurrent(criteria.SupplyCurrent{Except: answer}, step))
	if heat, err := criteria.FuseGG(s.Supply.FuseA, 1); err == nil {
		add(criteria.NewFuseHeating(heat, step))
	}
	// Each watt of change is served an answer later.
	add(criteria.NewAvoidableImport(criteria.AvoidableEnergy{BelowWh: rest.risesW*l.answerS()/3600 + 50*hours}, step))
	add(criteria.NewAvoidableExport(criteria.AvoidableEnergy{BelowWh: rest.fallsW*l.answerS()/3600 + 50*hours}, step))
	cycles := rest.movedWh/0.9/weakest + 0.1
	add(criteria.NewWear(criteria.Wear{CyclesPerDay: &cycles, Names: names}, step))
	writes := 3600/(float64(k.tuning.poll)*stepS) + 1
	add(criteria.NewCommandEconomy(criteria.CommandEconomy{WritesPerHour: &writes, Gap: time.Duration(k.tuning.poll) * step, Devices: names}, step))
	return list, bad
}

// parted is how long one battery may work against another: while the answer to a
// step is under way, and, where shares follow slowly, until they have followed.
func (k *Case) parted() time.Duration {
	l := k.limits(circulateW)
	pollS := float64(k.tuning.poll) * stepS
	switch k.Design {
	case trim:
		return up(l.seeS + l.moveS + l.decayS + pollS)
	case pause:
		return up(l.seeS + 2*pollS + l.moveS)
	}
	return max(up(l.seeS+l.moveS), 30*time.Second)
}
