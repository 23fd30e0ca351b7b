package wrong

import (
	"time"

	"kilter/cmd/steady/control"
)

// setPoints are faults of the design that gives set points.
var setPoints = []Fault{
	{
		Name: "gain-too-high", Does: "corrects the grid flow by more than twice what it is",
		Shows: Shows{"calm-start", "hunting", 2 * time.Minute, 5 * time.Minute},
		make:  given(func(c *central) { c.gain = 2.2 }),
	},
	{
		Name: "ignores-the-ramp", Does: "corrects again every second, though inverter and meter are three seconds late",
		Shows: Shows{"solar-surge", "hunting", 2 * time.Minute, 3 * time.Minute},
		make:  given(func(c *central) { c.fromOrders = true }, "--period", "1s"),
	},
	{
		Name: "forgets-its-own-part", Does: "takes the grid flow for the load, and forgets what the batteries give already",
		Shows: Shows{"calm-start", "hunting", 5 * time.Minute, 10 * time.Minute},
		make:  given(func(c *central) { c.fromZero = true }),
	},
	{
		Name: "winds-up", Does: "goes on adding up what the batteries cannot give, and must take it all back later",
		Shows: Shows{"ev-start", "export", 20 * time.Minute, 1206 * time.Second},
		make:  given(func(c *central) { c.windsUp = true }),
	},
	{
		Name: "deadband-too-wide", Does: "leaves 800 W of grid flow alone",
		Shows: Shows{"link-silent", "settle", 5 * time.Minute, 6 * time.Minute},
		make:  given(func(c *central) { c.deadbandW = 800 }),
	},
	{
		Name: "filters-too-slowly", Does: "acts on a running mean of the grid flow over several minutes",
		Shows: Shows{"calm-start", "settle", 5 * time.Minute, 306 * time.Second},
		make:  given(func(c *central) { c.blend, c.gain, c.fromOrders = 0.02, 0.02, true }),
	},
	{
		Name: "drops-the-decimals", Does: "gives set points in whole kilowatts, the rest cut off",
		Shows: Shows{"calm-start", "settle", 5 * time.Minute, 306 * time.Second},
		make:  given(func(c *central) { c.stepW = 1000 }),
	},
	{
		Name: "halves", Does: "gives each battery half, and what one cannot do the other is not asked for",
		Shows: Shows{"inverter-trip", "import", 5 * time.Minute, 306 * time.Second},
		make: given(func(c *central) {
			c.split = func(s control.Snapshot, total float64) map[string]float64 {
				half := map[string]float64{}
				for _, u := range s.Units {
					half[u.Name] = total / float64(len(s.Units))
				}
				return half
			}
		}),
	},
	{
		Name: "time-of-day", Does: "waits for the time of its next turn by the time of day, which may be put back",
		Shows: Shows{"clock-jump", "import", 10 * time.Minute, 11 * time.Minute},
		make:  wallClock,
	},
}
