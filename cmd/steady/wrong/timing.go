package wrong

import (
	"time"

	"kilter/cmd/steady/control"
)

// timings are faults of when things are done.
var timings = []Fault{
	{
		Name: "wakes-late", Does: "looks at the site once a minute",
		Shows: Shows{"cheap-hours", "import", 60 * time.Minute, 3630 * time.Second},
		make:  steady("--period", "60s"),
	},
	{
		Name: "never-stale", Does: "goes on with the last value of a device that does not answer, however old it is",
		Shows: Shows{"meter-lost", "import", 15 * time.Minute, 16 * time.Minute},
		make:  steady("--stale-after", "1000000"),
	},
	{
		Name: "old-grid-reading", Does: "sets a grid flow of a minute ago against the powers of now",
		Shows: Shows{"cheap-hours", "import", 60 * time.Minute, 3630 * time.Second},
		make: func() parts {
			var past []control.Reading
			return thinks(brain{see: func(s *control.Snapshot) {
				past = append(past, s.Grid)
				s.Grid = past[0]
				if len(past) > 6 {
					past = past[1:]
				}
			}})()
		},
	},
	{
		Name: "polls-too-fast", Does: "asks every device five times a second",
		Shows: Shows{"calm-start", "wire_manners", 0, 1 * time.Minute},
		make:  steady("--period", "200ms"),
	},
	{
		Name: "limits-until-further-notice", Does: "limits inverters until further notice, though they could be told for how long",
		Shows: Shows{"left-alone", "reversion", 0, 45 * time.Minute},
		make:  steady("--lease", "0s"),
	},
	{
		Name: "leases-too-long", Does: "makes inverters charge for a dozen minutes on, and counts on being there to end it",
		Shows: Shows{"killed-charging", "fail_safe", 12 * time.Minute, 13 * time.Minute},
		make:  steady("--lease", "3600s"),
	},
	{
		Name: "asks-for-too-long", Does: "asks north to keep limits for a quarter of an hour, though north's papers say that it forgets after five minutes",
		Shows: Shows{"limits-end", "reversion", 5 * time.Minute, 20 * time.Minute},
		make:  steady("--lease", "900s"),
	},
}
