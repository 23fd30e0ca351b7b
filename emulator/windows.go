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
	inside := func(list []scenarios.Window) bool {
		in := false
		for _, x := range list {
			from, to := x.From.Milliseconds(), x.To.Milliseconds()
			in = in || (from <= now && now < to)
			for _, edge := range [...]int64{from, to} {
				if edge > now && edge < w.nextMS {
					w.nextMS = edge
				}
			}
		}
		return in
	}
	t.ImportWanted = inside(w.importWanted)
	t.ExportWanted = inside(w.exportWanted)
	t.Cheap = inside(w.cheap)
}
