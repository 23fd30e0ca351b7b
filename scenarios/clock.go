package scenarios

import (
	"cmp"
	"slices"
	"strings"
	"time"

	// The zones are embedded, so that a scenario loads on machines without them.
	_ "time/tzdata"
)

// calendar turns what a scenario says about time into time since its start.
type calendar struct {
	*findings
	starts time.Time
	lasts  time.Duration
	step   time.Duration
	alone  bool // there is no story
}

// aloneDay is the calendar of a site that is read without a story: one day from
// midnight.
func aloneDay(step time.Duration, out *findings) *calendar {
	return &calendar{findings: out, starts: time.Unix(0, 0).UTC(), lasts: 24 * time.Hour, step: step, alone: true}
}

// secondOfDay is the local time of day at the start [s].
func (c *calendar) secondOfDay() int64 {
	h, m, s := c.starts.Clock()
	return int64(h*3600 + m*60 + s)
}

// startLayouts are the ways to write a date with a time.
var startLayouts = []string{"2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05"}

// start reads the local start, which must exist: not each local time does.
func (f *findings) start(starts, zone text) (time.Time, *time.Location) {
	loc := time.UTC
	if zone.s != "" {
		l, err := time.LoadLocation(zone.s)
		if err != nil || zone.s == "Local" {
			f.add(zone.at, quoted(zone.s), "an IANA time zone like Europe/Oslo, or UTC", "")
		} else {
			loc = l
		}
	}
	for _, layout := range startLayouts {
		t, err := time.ParseInLocation(layout, starts.s, loc)
		if err != nil {
			continue
		}
		if t.Format(layout) != starts.s {
			f.add(starts.at, quoted(starts.s), "a local time that exists", "the clocks are put forward over it in "+zone.s)
		}
		if t.Year() < 1950 || t.Year() > 2099 {
			f.add(starts.at, quoted(starts.s), "a year from 1950 to 2099", "")
		}
		return t, loc
	}
	if starts.set {
		f.add(starts.at, quoted(starts.s), "a local date and time like 2026-06-18 10:30", "")
	}
	return time.Unix(0, 0).In(loc), loc
}

// clockTime reads a local time of day.
func clockTime(s string) (h, m, sec int, ok bool) {
	for _, layout := range []string{"15:04", "15:04:05"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t.Hour(), t.Minute(), t.Second(), true
		}
	}
	return 0, 0, 0, false
}

// on gives the instant at which the clock shows that time of day, so many days
// after the start's date.
func (c *calendar) on(day int, clock string) time.Duration {
	h, m, s, _ := clockTime(clock)
	y, mon, d := c.starts.Date()
	return time.Date(y, mon, d+day, h, m, s, 0, c.starts.Location()).Sub(c.starts)
}

const whenWanted = "a time since the start like 5 min, or a local clock time like 02:30"

// when reads the time of an event. A clock time is the first such time in the
// run.
func (c *calendar) when(t text) time.Duration {
	at, ok := c.offset(t, t.s)
	if !ok {
		return 0
	}
	if strings.Contains(t.s, ":") {
		for day := 0; at < 0; day++ {
			at = c.on(day, t.s)
		}
	}
	switch {
	case at < 0 || at >= c.lasts:
		c.add(t.at, quoted(t.s), "a time within the run, which goes "+c.spoken(), "")
	case at%c.step != 0:
		c.add(t.at, quoted(t.s), "a multiple of the step of "+shownAs("time", c.step.Seconds()), "")
	}
	return at
}

// spoken says from when to when the run goes.
func (c *calendar) spoken() string {
	end := c.starts.Add(c.lasts)
	layout := "15:04:05"
	if c.lasts >= 24*time.Hour {
		layout = "2006-01-02 15:04:05"
	}
	return "from " + c.starts.Format(layout) + " for " + shownAs("time", c.lasts.Seconds()) + " to " + end.Format(layout)
}

// offset reads a time since the start or a clock time on the start's date; the
// latter is negative when it has passed by then.
func (c *calendar) offset(t text, s string) (time.Duration, bool) {
	if !t.set {
		return 0, false
	}
	if strings.Contains(s, ":") {
		if _, _, _, ok := clockTime(s); !ok {
			c.add(t.at, quoted(s), "a clock time from 00:00 to 23:59", "")
			return 0, false
		}
		return c.on(0, s), true
	}
	v, wanted, hint := dimensions["time"].parse(s)
	if wanted != "" {
		c.add(t.at, shown(s), whenWanted, hint)
		return 0, false
	}
	return seconds(v), true
}

// windows reads windows; those in clock times come again each day of the run.
// What lies outside the run is cut off.
func (c *calendar) windows(list list[text]) []Window {
	var windows []Window
	for _, t := range list {
		from, to, found := strings.Cut(t.s, " to ")
		if !found {
			c.add(t.at, quoted(t.s), "a window like 02:00 to 05:00 or 5 min to 20 min", "")
			continue
		}
		cut, ok := c.spans(text{at: t.at, s: strings.TrimSpace(from), set: true}, text{at: t.at, s: strings.TrimSpace(to), set: true})
		if ok && len(cut) == 0 {
			c.add(t.at, quoted(t.s), "a window within the run, which goes "+c.spoken(), "")
		}
		windows = append(windows, cut...)
	}
	return windows
}

// spans gives the windows from one time to another that touch the run; those in
// clock times come again each day. It says whether the times are sound.
func (c *calendar) spans(from, to text) ([]Window, bool) {
	before := len(c.list)
	a, okA := c.offset(from, from.s)
	b, okB := c.offset(to, to.s)
	if !okA || !okB || len(c.list) > before {
		return nil, false
	}
	said := quoted(from.s + " to " + to.s)
	switch clockA, clockB := strings.Contains(from.s, ":"), strings.Contains(to.s, ":"); {
	case clockA != clockB:
		c.add(from.at, said, "two clock times, or two times since the start", "")
		return nil, false
	case clockA:
		return c.daily(from.s, to.s), true
	case a >= b:
		c.add(from.at, said, "a window that ends after it begins", "")
		return nil, false
	}
	return c.within(nil, a, b), true
}

// prices lays a tariff's prices on the run, in the order of time.
func (c *calendar) prices(list list[*priceFile]) []PriceWindow {
	type said struct {
		PriceWindow
		at spot
	}
	var all []said
	for _, f := range list {
		windows, ok := c.spans(f.From, f.To)
		if ok && len(windows) == 0 {
			c.add(f.From.at, quoted(f.From.s+" to "+f.To.s), "a window within the run, which goes "+c.spoken(), "")
		}
		for _, w := range windows {
			all = append(all, said{PriceWindow{w, f.Price.v}, f.From.at})
		}
	}
	slices.SortStableFunc(all, func(x, y said) int { return cmp.Compare(x.From, y.From) })
	var prices []PriceWindow
	for i, one := range all {
		if i > 0 && one.From < all[i-1].To {
			c.add(one.at, "a price that begins within another's window", "windows one after the other", "the other stands at "+all[i-1].at.String())
			return prices
		}
		prices = append(prices, one.PriceWindow)
	}
	return prices
}

// daily gives a window of each day that touches the run.
func (c *calendar) daily(from, to string) []Window {
	var windows []Window
	overnight := c.on(0, from) >= c.on(0, to)
	for day := -1; c.on(day, from) < c.lasts; day++ {
		end := day
		if overnight {
			end++
		}
		windows = c.within(windows, c.on(day, from), c.on(end, to))
	}
	return windows
}

// within appends the part of a window that lies in the run, if any.
func (c *calendar) within(list []Window, from, to time.Duration) []Window {
	from, to = max(from, 0), min(to, c.lasts)
	if from >= to {
		return list
	}
	return append(list, Window{from, to})
}
