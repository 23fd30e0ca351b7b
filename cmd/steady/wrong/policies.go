package wrong

import (
	"math"
	"slices"
	"time"

	"kilter/cmd/steady/control"
)

// policies are faults in what is wanted of the batteries.
var policies = []Fault{
	{
		Name: "dry-run", Does: "was left in its trial mode, and decides all but writes nothing",
		Shows: Shows{"left-alone", "circulating", 1 * time.Minute, 10 * time.Minute},
		make:  thinks(brain{want: func(_ control.Snapshot, o orders) { clear(o) }}),
	},
	{
		Name: "wrong-inverter", Does: "sends each inverter what the other is meant to do",
		Shows: Shows{"left-alone", "circulating", 0, 10 * time.Minute},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			a, b := s.Units[0], s.Units[len(s.Units)-1]
			forA, forB := o[a.Name], o[b.Name]
			o.give(a, forB.Band, forB.Why)
			o.give(b, forA.Band, forA.Why)
		}}),
	},
	{
		Name: "never-releases", Does: "never gives back a direction that it has once taken from an inverter",
		Shows: Shows{"irregular-slot", "settle", 19 * time.Minute, 1146 * time.Second},
		make: func() parts {
			held := map[string]control.Band{}
			return thinks(brain{want: func(s control.Snapshot, o orders) {
				for _, u := range s.Units {
					was, ok := held[u.Name]
					if !ok {
						was = free(u)
					}
					band := o[u.Name].Band
					band = control.Band{MinW: math.Max(band.MinW, was.MinW), MaxW: math.Min(band.MaxW, was.MaxW)}
					held[u.Name] = band
					o.give(u, band, o[u.Name].Why)
				}
			}})()
		},
	},
	{
		Name: "holds-and-releases-both", Does: "holds both batteries for a minute when power circulates, and releases both at once",
		Shows: Shows{"left-alone", "import", 1 * time.Minute, 10 * time.Minute},
		make: func() parts {
			until := time.Duration(0)
			return thinks(brain{decide: func(s control.Snapshot, o orders) {
				if circulating(s) > 60 {
					until = s.At + time.Minute
				}
				for _, u := range s.Units {
					if s.At < until {
						o.give(u, power(0), "power circulated")
					} else {
						o.give(u, free(u), "released")
					}
				}
			}})()
		},
	},
	{
		Name: "no-hysteresis", Does: "lets the fuller battery alone discharge and the emptier one alone charge, by however little they differ",
		Shows: Shows{"left-alone", "hunting", 2 * time.Minute, 5 * time.Minute},
		make: thinks(brain{decide: func(s control.Snapshot, o orders) {
			need := needW(s)
			first := s.Units[0]
			for _, u := range s.Units {
				if need > 0 && u.SOC.Value < first.SOC.Value || need <= 0 && u.SOC.Value > first.SOC.Value {
					first = u
				}
			}
			for _, u := range s.Units {
				if u.Name == first.Name {
					o.give(u, free(u), "is first")
				} else {
					o.give(u, power(0), "is not first")
				}
			}
		}}),
	},
	{
		Name: "one-charges-the-other", Does: "levels states of charge by letting one battery charge the other",
		Shows: Shows{"soc-jump", "circulating", 10 * time.Minute, 11 * time.Minute},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			full, empty := fullestAndEmptiest(s)
			if full.SOC.Value-empty.SOC.Value > 0.04 {
				o.give(full, free(full), "gives")
				o.give(empty, power(1000), "takes")
			}
		}}),
	},
	{
		Name: "mean-state-of-charge", Does: "looks at the mean of both states of charge only",
		Shows: Shows{"soc-jump", "soc_spread", 80 * time.Minute, 81 * time.Minute},
		make: seesReading(func(s *control.Snapshot) {
			mean := 0.0
			for _, u := range s.Units {
				mean += u.SOC.Value / float64(len(s.Units))
			}
			for i := range s.Units {
				s.Units[i].SOC.Value = mean
			}
		}),
	},
	{
		Name: "spares-the-fuller", Does: "keeps the fuller battery for later, and lets the emptier one serve the site alone",
		Shows: Shows{"soc-jump", "formula.fuller-first", 10 * time.Minute, 11 * time.Minute},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			full, empty := fullestAndEmptiest(s)
			if full.SOC.Value-empty.SOC.Value > 0.04 {
				o.give(full, power(0), "is for later")
				o.give(empty, free(empty), "serves")
			}
		}}),
	},
	{
		Name: "discards-outliers", Does: "takes it for a mistake of measurement when much power circulates, and goes on with the values from before",
		Shows: Shows{"meter-stale", "circulating", 5 * time.Minute, 6 * time.Minute},
		make: func() parts {
			var before []control.Unit
			return seesReading(func(s *control.Snapshot) {
				if circulating(*s) > 500 && before != nil {
					s.Units = slices.Clone(before)
				}
				before = slices.Clone(s.Units)
			})()
		},
	},
	{
		Name: "too-patient", Does: "holds the battery that charges from the other only when it has seen that at five polls in a row",
		Shows: Shows{"meter-reversed", "circulating", 5 * time.Minute, 15 * time.Minute},
		make: func() parts {
			seen, until := 0, time.Duration(0)
			held := ""
			return thinks(brain{decide: func(s control.Snapshot, o orders) {
				if seen++; circulating(s) < 60 {
					seen = 0
				}
				if seen == 5 {
					until = s.At + time.Minute
				}
				for _, u := range s.Units {
					if seen == 5 && u.Power.Value > 0 {
						held = u.Name
					}
					if s.At < until && u.Name == held {
						o.give(u, power(0), "charges from the other")
					} else {
						o.give(u, free(u), "is free")
					}
				}
			}})()
		},
	},
	{
		Name: "one-at-a-time", Does: "lets only one battery work, however much the site needs",
		Shows: Shows{"inverter-trip", "avoidable_import", 5 * time.Minute, 6 * time.Minute},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			o.give(s.Units[len(s.Units)-1], power(0), "the other works")
		}}),
	},
	{
		Name: "takes-turns", Does: "lets the batteries take turns at every poll, so that both are used alike",
		Shows: Shows{"calm-start", "hunting", 2 * time.Minute, 5 * time.Minute},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			for i, u := range s.Units {
				if (int(s.At/(10*time.Second))+i)%2 == 0 {
					o.give(u, power(0), "not its turn")
				} else {
					o.give(u, free(u), "its turn")
				}
			}
		}}),
	},
	{
		Name: "writes-each-poll", Does: "writes all limits at every poll, changed or not",
		Shows: Shows{"calm-start", "command_economy", 5 * time.Minute, 20 * time.Minute},
		make:  thinks(brain{repeat: true}),
	},
	{
		Name: "charges-one-only", Does: "lets only the emptier battery charge, also where the sun gives more than that one takes",
		Shows: Shows{"price-silent", "avoidable_export", 8 * time.Minute, 12 * time.Minute},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			empty := s.Units[0]
			for _, u := range s.Units {
				if u.SOC.Value < empty.SOC.Value {
					empty = u
				}
			}
			for _, u := range s.Units {
				if c := o[u.Name]; u.Name != empty.Name {
					o.give(u, control.Band{MinW: math.Min(c.Band.MinW, 0), MaxW: math.Min(c.Band.MaxW, 0)}, c.Why)
				}
			}
		}}),
	},
	{
		Name: "keeps-awake", Does: "wakes each battery every two minutes by charging it for a poll, lest it fall asleep",
		Shows: Shows{"left-alone", "wear", 5 * time.Minute, 20 * time.Minute},
		make: thinks(brain{want: func(s control.Snapshot, o orders) {
			n := int(s.At / (10 * time.Second))
			if n%6 == 0 {
				u := s.Units[n/6%len(s.Units)]
				o.give(u, power(100), "must not fall asleep")
			}
		}}),
	},
	{
		Name: "starts-by-holding", Does: "holds both batteries for two minutes after its start, until it knows enough",
		Shows: Shows{"controller-killed", "recovery", 13 * time.Minute, 15 * time.Minute},
		make: func() parts {
			begun := time.Duration(-1)
			return thinks(brain{want: func(s control.Snapshot, o orders) {
				if begun < 0 {
					begun = s.At
				}
				for _, u := range s.Units {
					if s.At-begun < 2*time.Minute {
						o.give(u, power(0), "not enough is known yet")
					}
				}
			}})()
		},
	},
	{
		Name: "runs-twice", Does: "runs as a service and in a forgotten window too, where an older version of it gives set points",
		Shows: Shows{"calm-start", "command_economy", 1 * time.Minute, 20 * time.Minute},
		make: func() parts {
			older, turn := sound(), 0
			return thinks(brain{repeat: true, want: func(s control.Snapshot, o orders) {
				if turn++; turn%2 == 0 {
					older.decide(s, o)
				}
			}}, "--period", "5s")()
		},
	},
}

// totalW is what all batteries do together [W].
func totalW(s control.Snapshot) float64 {
	sum := 0.0
	for _, u := range s.Units {
		sum += u.Power.Value
	}
	return sum
}

// needW is what the batteries should do together, so that the grid flow is 0 [W].
func needW(s control.Snapshot) float64 { return totalW(s) - s.Grid.Value }

// circulating is what flows out of some batteries into others [W].
func circulating(s control.Snapshot) float64 {
	in, out := 0.0, 0.0
	for _, u := range s.Units {
		in += math.Max(u.Power.Value, 0)
		out += math.Max(-u.Power.Value, 0)
	}
	return math.Min(in, out)
}
