package scenarios

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"
)

// mostWords bounds what somebody at the panel may write about one event.
const mostWords = 200

// Event reads what happens to a device, the sky or the supply at a time, in the words of a scenario file:
// {plug_in: 16 A}, or unplug. What lasts makes two events.
func (s *Scenario) Event(at time.Duration, device, what string) ([]Event, error) {
	if _, known := s.Site.Find(device); !known && device != SkyName && device != SupplyName {
		return nil, fmt.Errorf("found no device called %q on the site %s", device, s.Site.Name)
	}
	if len(what) > mostWords || strings.ContainsAny(what, "\r\n") {
		return nil, fmt.Errorf("what happens: found more than one line or %d characters, want something like {plug_in: 16 A}", mostWords)
	}
	f := &eventFile{}
	out := &findings{}
	text := fmt.Sprintf("at: %s\n%s: %s\n", timeWords(at), device, what)
	const where = "by hand"
	root, err := parse(where, []byte(text))
	if err != nil {
		return nil, err
	}
	r := &reader{file: where, findings: out}
	r.mapping(reflect.ValueOf(f).Elem(), root, spot{file: where, line: 1, col: 1})
	if err := out.err(); err != nil {
		return nil, err
	}
	c := &calendar{findings: out, starts: s.Starts, lasts: max(s.Lasts, at) + 24*time.Hour, step: s.Step}
	b := &eventBuilder{calendar: c, site: s.Site}
	b.event(f)
	if err := out.err(); err != nil {
		return nil, err
	}
	for i := range b.events {
		b.events[i].Line = 0
	}
	return b.events, nil
}

// WithEvents returns the scenario with other events and another length.
func (s *Scenario) WithEvents(events []Event, lasts time.Duration) *Scenario {
	c := s.withOwnSite()
	c.Events, c.Lasts = slices.Clone(events), lasts
	slices.SortStableFunc(c.Events, func(a, b Event) int { return int(min(max(a.At-b.At, -1), 1)) })
	return c
}
