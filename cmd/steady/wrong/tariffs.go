package wrong

import (
	"math"
	"time"

	"kilter/cmd/steady/control"
)

// tariffs are faults in what is drawn from the grid, or fed into it, and when.
var tariffs = []Fault{
	{
		Name: "ignores-cheap-slots", Does: "never looks at the tariff",
		Shows: Shows{"summer-time", "schedule", 150 * time.Minute, 151 * time.Minute},
		make:  seesReading(func(s *control.Snapshot) { s.Cheap = false }),
	},
	{
		Name: "ignores-the-charger", Does: "takes the load at the beginning of a cheap slot for that of the whole slot, van or no van",
		Shows: Shows{"cheap-hours", "import", 60 * time.Minute, 3630 * time.Second},
		make: func() parts {
			open, load := false, 0.0
			return seesReading(func(s *control.Snapshot) {
				if s.Cheap && !open {
					load = -needW(*s)
				}
				open = s.Cheap
				if open {
					s.Grid.Value = load + totalW(*s)
				}
			})()
		},
	},
	{
		Name: "ignores-the-import-limit", Does: "charges at full power in a cheap slot, whatever else draws power",
		Shows: Shows{"cheap-hours", "import", 60 * time.Minute, 3630 * time.Second},
		make:  seesReading(func(s *control.Snapshot) { s.ImportLimitW = 0 }),
	},
	{
		Name: "three-phases-for-one", Does: "takes the import limit for that of each phase, and there are three of them in its mind",
		Shows: Shows{"fuse-night", "supply_current", 35 * time.Minute, 36 * time.Minute},
		make:  seesReading(func(s *control.Snapshot) { s.ImportLimitW *= 3 }),
	},
	{
		Name: "makes-room-slowly", Does: "makes room for other load in steps of 200 W a poll, so as not to disturb",
		Shows: Shows{"fuse-night", "fuse_heating", 35 * time.Minute, 36 * time.Minute},
		make: func() parts {
			last := map[string]float64{}
			return thinks(brain{want: func(s control.Snapshot, o orders) {
				for _, u := range s.Units {
					c := o[u.Name]
					if was := last[u.Name]; s.Cheap && c.Band.MinW < was-200 {
						c.Band = power(was - 200)
						o[u.Name] = c
					}
					last[u.Name] = math.Max(c.Band.MinW, 0)
				}
			}})()
		},
	},
	{
		Name: "keeps-for-later", Does: "never lets a battery discharge, so that it is full when it is needed",
		Shows: Shows{"calm-start", "import", 5 * time.Minute, 306 * time.Second},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			for _, u := range s.Units {
				c := o[u.Name]
				o.give(u, control.Band{MinW: math.Max(c.Band.MinW, 0), MaxW: math.Max(c.Band.MaxW, 0)}, c.Why)
			}
		}}),
	},
	{
		Name: "fills-at-any-hour", Does: "charges from the grid whenever a battery is less than 60 % full, cheap or dear",
		Shows: Shows{"calm-start", "import", 0, 1 * time.Minute},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			for _, u := range s.Units {
				if u.SOC.Value < 0.6 {
					o.give(u, power(1000), "less than 60 % full")
				}
			}
		}}),
	},
	{
		Name: "sells", Does: "discharges at full power into the grid while a battery is more than 40 % full",
		Shows: Shows{"oven-cycling", "export", 0, 6 * time.Second},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			for _, u := range s.Units {
				if u.SOC.Value > 0.4 {
					o.give(u, power(-u.DischargeMaxW), "more than 40 % full")
				}
			}
		}}),
	},
	{
		Name: "misses-the-slots-end", Does: "notices the end of a cheap slot three minutes late",
		Shows: Shows{"irregular-slot", "avoidable_import", 1170 * time.Second, 1230 * time.Second},
		make: func() parts {
			last := -time.Hour
			return thinks(brain{see: func(s *control.Snapshot) {
				if s.Cheap {
					last = s.At
				}
				s.Cheap = s.At-last < 3*time.Minute
			}})()
		},
	},
	{
		Name: "slots-by-the-quarter-hour", Does: "believes that cheap slots begin and end at full quarters of an hour",
		Shows: Shows{"irregular-slot", "settle", 19 * time.Minute, 1146 * time.Second},
		make: func() parts {
			cheap, quarter := false, time.Duration(-1)
			return thinks(brain{see: func(s *control.Snapshot) {
				if q := s.At / (15 * time.Minute); q != quarter {
					quarter, cheap = q, s.Cheap
				}
				s.Cheap = cheap
			}})()
		},
	},
	{
		Name: "clock-an-hour-off", Does: "counts the cheap hours by a clock that does not know of summer time",
		Shows: Shows{"summer-time", "schedule", 150 * time.Minute, 151 * time.Minute},
		make:  winterClock,
	},
}
