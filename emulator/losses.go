package emulator

import (
	"math"
	"slices"
	"time"

	"kilter/scenarios"
)

// losses keeps which links are lost now, and looks again only when a fault begins or ends.
type losses struct{ nextMS int64 }

// mute are the faults in which no answer of a device can be understood.
var mute = []scenarios.LinkFaultKind{
	scenarios.Silent, scenarios.Refuses, scenarios.Resets, scenarios.Busy, scenarios.Garbage, scenarios.HangsUp,
	scenarios.WrongTransaction, scenarios.WrongUnit, scenarios.WrongCount, scenarios.HalfReply,
}

// at sets for each device whether its link is lost at the instant now.
func (l *losses) at(now time.Duration, devices []*device, lost []bool) {
	l.nextMS = math.MaxInt64
	for i, d := range devices {
		lost[i] = false
		for _, f := range d.link.faults.all() {
			if !slices.Contains(mute, f.Kind) {
				continue
			}
			lost[i] = lost[i] || f.From <= now && now < f.To
			for _, edge := range [...]time.Duration{f.From, f.To} {
				if ms := edge.Milliseconds(); edge > now && ms < l.nextMS {
					l.nextMS = ms
				}
			}
		}
	}
}
