package shrink

import (
	"slices"
	"time"

	"kilter/physics"
	"kilter/scenarios"
)

// endingAt is a scenario up to a time.
func endingAt(sc *scenarios.Scenario, lasts time.Duration) *scenarios.Scenario {
	events := slices.DeleteFunc(slices.Clone(sc.Events), func(e scenarios.Event) bool { return e.At >= lasts })
	return within(sc, events, 0, lasts)
}

// beginningAt is a scenario from a time on. What happened before happens at once, as far as it lasts.
func beginningAt(sc *scenarios.Scenario, from time.Duration) *scenarios.Scenario {
	var events []scenarios.Event
	for _, e := range sc.Events {
		if early := from - e.At; early > 0 {
			if e.Link != nil {
				if e.Link.Lasts <= early {
					continue
				}
				rest := *e.Link
				rest.Lasts -= early
				e.Link = &rest
			}
			e.At, e.Disturbs = from, false
		}
		e.At -= from
		events = append(events, e)
	}
	return within(sc, events, from, sc.Lasts-from)
}

// movable says that nothing measured is laid on the time since the start: it would no longer fit.
func movable(sc *scenarios.Scenario) bool {
	p := &sc.Site.Plant
	return len(p.Sky.Irradiance) == 0 && !slices.ContainsFunc(p.Loads, func(l physics.LoadParams) bool { return len(l.Profile) > 0 })
}

// within is a scenario with other events, from a time on and for so long.
func within(sc *scenarios.Scenario, events []scenarios.Event, from, lasts time.Duration) *scenarios.Scenario {
	c := sc.WithEvents(events, lasts)
	c.Starts = c.Starts.Add(from)
	for _, w := range []*[]scenarios.Window{&c.ImportWanted, &c.ExportWanted, &c.Cheap} {
		*w = moved(*w, from, lasts)
	}
	var prices []scenarios.PriceWindow
	for _, p := range c.Prices {
		for _, w := range moved([]scenarios.Window{p.Window}, from, lasts) {
			prices = append(prices, scenarios.PriceWindow{Window: w, Price: p.Price})
		}
	}
	c.Prices = prices
	return c
}

// moved are the windows as far as they lie within.
func moved(windows []scenarios.Window, from, lasts time.Duration) []scenarios.Window {
	var kept []scenarios.Window
	for _, w := range windows {
		w.From, w.To = max(0, w.From-from), min(w.To-from, lasts)
		if w.From < w.To {
			kept = append(kept, w)
		}
	}
	return kept
}
