package emulator

import (
	"math"

	"kilter/scenarios"
)

// windows keeps what the scenario intends now, and looks again only when one of its
// windows begins or ends.
type windows struct {
	importWanted, exportWanted, cheap []scenarios.Window
	nextMS                            int64
}

func newWindows(sc *scenarios.Scenario) windows {
	return windows{importWanted: sc.ImportWanted, exportWanted: sc.ExportWanted, cheap: sc.Cheap}
}

// at sets the intentions for the instant now.
func (w *windows) at(now int64, t *Tick) {
	w.nextMS = math.MaxInt64
	for _, list := range [...][]scenarios.Window{w.importWanted, w.exportWanted, w.cheap} {
		for _, x := range list {
			for _, edge := range [...]int64{x.From.Milliseconds(), x.To.Milliseconds()} {
				if edge > now && edge < w.nextMS {
					w.nextMS = edge
				}
			}
		}
	}
	t.ImportWanted = inside(w.importWanted, now)
	t.ExportWanted = inside(w.exportWanted, now)
	t.Cheap = inside(w.cheap, now)
}

// price is what energy costs now; NaN where the scenario does not say.
func (b *Bench) price() float64 {
	now := b.now()
	for _, w := range b.scenario.Prices {
		if w.From <= now && now < w.To {
			return w.Price
		}
	}
	return math.NaN()
}

// inside says whether an instant lies in one of the windows.
func inside(list []scenarios.Window, now int64) bool {
	for _, x := range list {
		if x.From.Milliseconds() <= now && now < x.To.Milliseconds() {
			return true
		}
	}
	return false
}
