package panel

import (
	"cmp"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"kilter/emulator"
	"kilter/physics"
	"kilter/scenarios"
)

// injectRow is a line of what may be made to happen: a sentence with figures to choose and buttons.
type injectRow struct {
	Device  string
	Label   string
	Fields  []injectField
	Buttons []injectButton
}

// injectField is a figure that a button's words take in, in the place of its letter.
type injectField struct {
	Key, Label, Unit string
	Value            float64
	Max              float64
}

// injectButton makes something happen, in the words of a scenario file; $a is the figure of the field a.
type injectButton struct{ Label, What string }

// injectRows are what this site can have happen.
func injectRows(sc *scenarios.Scenario) []injectRow {
	plant := &sc.Site.Plant
	var rows []injectRow
	add := func(device, label string, fields []injectField, buttons ...injectButton) {
		rows = append(rows, injectRow{device, label, fields, buttons})
	}
	for _, d := range sc.Site.Devices {
		name := strings.ReplaceAll(d.Name, "_", " ")
		switch d.Kind {
		case scenarios.Charger:
			add(d.Name, name, []injectField{{"a", "vehicle draws", "A", plant.Chargers[d.Index].MaxA, 80}},
				injectButton{"start", "{plug_in: $a A}"}, injectButton{"stop", "unplug"})
		case scenarios.Load:
			if plant.Loads[d.Index].Kind == physics.ProfileLoad {
				continue
			}
			add(d.Name, name, []injectField{{"a", "steps to", "kW", plant.Loads[d.Index].PowerW / 1000, 100}},
				injectButton{"step", "{power: $a kW}"}, injectButton{"off", "{switch: off}"})
		case scenarios.Inverter:
			add(d.Name, name, []injectField{{"a", "trips for", "s", 60, 3600}}, injectButton{"trip", "{trip: $a s}"})
			add(d.Name, name+"'s battery", []injectField{{"a", "is suddenly at", "%", 50, 100}}, injectButton{"set charge", "{soc: $a %}"})
		case scenarios.Meter:
			add(d.Name, name, nil, injectButton{"reverse", "{fault: reversed}"}, injectButton{"freeze", "{fault: frozen}"}, injectButton{"mend", "{fault: none}"})
		}
	}
	if len(plant.Arrays) > 0 {
		add(scenarios.SkyName, "sky", []injectField{{"a", "a cloud takes", "%", 75, 100}, {"b", "for", "s", 90, 3600}},
			injectButton{"pass", "{cloud: {depth: $a %, edge: 4 s, lasts: $b s}}"})
	}
	for _, d := range sc.Site.Devices {
		if d.Wire != nil {
			add(d.Name, "link to "+strings.ReplaceAll(d.Name, "_", " "), []injectField{{"a", "falls silent for", "s", 30, 3600}},
				injectButton{"silence", "{fault: silent, lasts: $a s}"})
		}
	}
	return rows
}

type paceChoice struct {
	Label string
	Pace  float64
}

var paceChoices = []paceChoice{{"hold", 0}, {"as the clock", 1}, {"5 times", 5}, {"20 times", 20}}

// repace tells viewers of another pace.
func (p *Panel) repace(pace emulator.Pace) {
	word := pace.String()
	if pace == 0 {
		word = "held"
	}
	p.mutex.Lock()
	p.now.Pace = word
	told := p.now
	told.Values, told.Words = slices.Clone(p.now.Values), slices.Clone(p.now.Words)
	p.mutex.Unlock()
	p.hub.send("now", told)
}

// fileName are the names that a saved scenario may have.
var fileName = regexp.MustCompile(`^[a-z][a-z0-9_-]{0,60}$`)

// saved is the run so far and what was still to come of it, as a scenario. Checked on another day, it gives loads
// and sky the same power at the same time: its story tells the hash of it.
func (p *Panel) saved(name string) (text []byte, file string, err error) {
	sc := p.options.Scenario
	name = cmp.Or(name, sc.Name+"-by-hand")
	if !fileName.MatchString(name) {
		return nil, "", fmt.Errorf("name: found %q, want lower case letters, digits and hyphens, and a letter first", name)
	}
	var events []scenarios.Event
	var at time.Duration
	given, hands := "", 0
	p.bench.Between(func(coming []scenarios.Event) {
		p.mutex.Lock()
		defer p.mutex.Unlock()
		events = append(slices.Clone(p.played), coming...)
		at = time.Duration(p.bench.Plant().TimeMS()) * time.Millisecond
		given, hands = hex.EncodeToString(p.given.Sum(nil)), len(p.injected)
	})
	lasts := max(sc.Lasts, at+sc.Step)
	events = slices.DeleteFunc(events, func(e scenarios.Event) bool { return e.At >= lasts })
	saved := sc.WithEvents(events, lasts)
	saved.Name = name
	if hands > 0 {
		saved.Title += ", changed by hand"
	}
	saved.Story = strings.TrimSpace(saved.Story + fmt.Sprintf("\nSaved at %v: up to then the power of loads and sky, as the 64 bits of one figure a tick, had the SHA-256 %s.", at, given))
	text, err = saved.Resolve()
	return text, name, err
}
