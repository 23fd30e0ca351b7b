package scenarios

import (
	"cmp"
	"slices"
	"strings"

	"kilter/physics"
)

// eventBuilder makes what a scenario says into events.
type eventBuilder struct {
	*calendar
	site   *Site
	events []Event
	trials []staged // those among them
}

// verbs are the things that can happen to each kind of device, in the words of
// the file.
var verbs = map[DeviceKind][]string{
	Inverter: {"trip", "soc", "told_soc", "fault"},
	Meter:    {"fault"},
	Array:    {"fault"},
	Load:     {"switch", "power"},
	Charger:  {"plug_in", "unplug", "fault"},
	Tariff:   {"fault"},
}

var (
	skyVerbs    = []string{"cloud", "broken_clouds", "clear"}
	supplyVerbs = []string{"outage", "returns", "voltage", "frequency"}
	trialVerbs  = []string{"kill", "start", "pause", "continue", "second_copy", "copy_ends", "clock", "fault"}
)

// bareVerbs stand alone, without a value.
var bareVerbs = []string{"unplug", "clear", "outage", "returns", "kill", "start", "pause", "continue", "second_copy", "copy_ends"}

// fieldClouds is the word for physics.FieldClouds.
const fieldClouds = "field clouds"

// settles are the verbs after which grid flow is expected to come to rest; an
// event may say otherwise.
var settles = []string{"switch", "power", "plug_in", "unplug", "cloud", "trip", "returns"}

// event makes one entry of happens into events.
func (b *eventBuilder) event(f *eventFile) {
	if len(f.What) == 0 {
		b.add(f.At, "an event to which nothing happens", "a device's name, sky, supply or controller, and what happens to it", "")
	}
	at := b.when(f.When)
	for i := range f.What {
		what := &f.What[i]
		kind, index, ok := b.subject(what)
		if !ok {
			continue
		}
		verb, ok := b.verb(what, kind)
		if !ok {
			continue
		}
		e := Event{
			At: at, Device: what.Name, Line: f.At.line, Text: f.Text.s,
			Disturbs: slices.Contains(settles, verb),
		}
		if f.Disturbs.set {
			e.Disturbs = f.Disturbs.s == "yes"
		}
		b.act(e, verb, index, what)
	}
}

// These stand for sky, supply and controller among the kinds of what an event can happen to.
const (
	skyKind DeviceKind = 255 - iota
	supplyKind
	controllerKind
)

// subject finds what an event happens to.
func (b *eventBuilder) subject(what *entry[whatFile]) (DeviceKind, int, bool) {
	switch what.Name {
	case SkyName:
		return skyKind, 0, true
	case SupplyName:
		return supplyKind, 0, true
	case ControllerName:
		return controllerKind, 0, true
	}
	d, known := b.site.Find(what.Name)
	if !known {
		names := []string{SkyName, SupplyName, ControllerName}
		for _, d := range b.site.Devices {
			names = append(names, d.Name)
		}
		wanted, hint := unknownWord(what.Name, names)
		b.add(what.At, "the unknown device "+what.Name, wanted, hint)
	}
	return d.Kind, d.Index, known
}

// verb gives the one thing that happens, if it can happen to this kind.
func (b *eventBuilder) verb(what *entry[whatFile], kind DeviceKind) (string, bool) {
	w := &what.Value
	var said []string
	note := func(set bool, verb string) {
		if set {
			said = append(said, verb)
		}
	}
	note(w.Word.set, w.Word.s)
	note(w.Switch.set, "switch")
	note(w.Power.set, "power")
	note(w.PlugIn.set, "plug_in")
	note(w.Cloud != nil, "cloud")
	note(w.Broken != nil, "broken_clouds")
	note(w.Fault.set, "fault")
	note(w.Trip.set, "trip")
	note(w.SOC.set, "soc")
	note(w.Told.set, "told_soc")
	note(w.Outage.set, "outage")
	note(w.Voltage.set, "voltage")
	note(w.Frequency.set, "frequency")
	note(w.Kill.set, "kill")
	note(w.Pause.set, "pause")
	note(w.Copy.set, "second_copy")
	note(w.Clock.set, "clock")
	can, name := verbs[kind], ""
	switch kind {
	case skyKind:
		can, name = skyVerbs, "the sky"
	case supplyKind:
		can, name = supplyVerbs, "the supply"
	case controllerKind:
		can, name = trialVerbs, "the controller"
	default:
		name = article(kind.String())
	}
	wanted := "one of " + strings.Join(can, ", ")
	switch len(can) {
	case 0:
		wanted = "no event of " + name
	case 1:
		wanted = can[0]
	}
	switch {
	case len(said) == 0:
		b.add(what.At, "nothing that happens", wanted, "")
		return "", false
	case len(said) > 1:
		b.add(what.At, strings.Join(said, " and ")+" at once", "one of them an event", "write two events")
		return "", false
	case w.Word.set && !slices.Contains(bareVerbs, said[0]):
		b.add(w.Word.at, quoted(said[0]), wanted, suggestion(said[0], kind))
		return "", false
	case !slices.Contains(can, said[0]):
		b.add(what.At, said[0]+" of "+name, wanted, "")
		return "", false
	}
	if w.Energy.set && said[0] != "plug_in" {
		b.add(w.Energy.at, "energy beside "+said[0], "energy beside plug_in only", "")
	}
	if k := slices.Index(linkFaults, w.Fault.s); w.Delay.set && !(k >= 0 && LinkFaultKind(k).delays()) {
		b.add(w.Delay.at, "a delay beside "+cmp.Or(w.Fault.s, said[0]), "delay beside fault: slow, jittery or dripping only", "")
	}
	if w.Lasts.set && said[0] != "fault" {
		b.add(w.Lasts.at, "lasts beside "+said[0], "lasts beside fault only", "")
	}
	return said[0], true
}

// suggestion says how to write what a bare word or quantity seems to mean for a kind of device.
func suggestion(word string, kind DeviceKind) string {
	digits, unit := splitQuantity(word)
	home := unitHome(unit)
	switch {
	case kind == Load && (word == "on" || word == "off"):
		return "write {switch: " + word + "}"
	case kind == Load && digits != "" && home == dimensions["power"]:
		return "write {power: " + word + "}"
	case kind == Charger && digits != "" && home == dimensions["current"]:
		return "write {plug_in: " + word + "}"
	case kind == Inverter && digits != "" && home == dimensions["share"]:
		return "write {soc: " + word + "}"
	case kind == supplyKind && digits != "" && home == dimensions["voltage"]:
		return "write {voltage: " + word + "}"
	case kind == supplyKind && digits != "" && home == dimensions["frequency"]:
		return "write {frequency: " + word + "}"
	case kind == supplyKind && digits != "" && home == dimensions["time"]:
		return "write {outage: " + word + "}"
	case kind == Meter && slices.Contains([]string{"frozen", "reversed", "none"}, word):
		return "write {fault: " + word + "}"
	case slices.Contains(linkFaults, word) && slices.Contains(verbs[kind], "fault"):
		if k := LinkFaultKind(slices.Index(linkFaults, word)); k.delays() {
			return "like {fault: " + word + ", delay: " + k.likelyDelay() + ", lasts: 30 s}"
		}
		return "like {fault: " + word + ", lasts: 30 s}"
	}
	return map[DeviceKind]string{
		controllerKind: "like {kill: 2 min} or {pause: 90 s}, or start",

		Inverter: "like {trip: 2 min} or {soc: 60 %}",
		Meter:    "like {fault: frozen}",
		Load:     "like {switch: on} or {power: 3 kW}",
		Charger:  "like {plug_in: 16 A}, or unplug",
		Array:    "like {fault: silent, lasts: 30 s}",
		Tariff:   "like {fault: silent, lasts: 30 s}",
		skyKind:  "like {cloud: {depth: 75 %, lasts: 90 s}}, or clear",

		supplyKind: "like {outage: 2 min} or {voltage: 253 V}, or outage, or returns",
	}[kind]
}

// act appends the event, and the one that ends it where it lasts.
func (b *eventBuilder) act(e Event, verb string, index int, what *entry[whatFile]) {
	w := &what.Value
	switch verb {
	case "switch":
		e.Action = physics.SwitchLoad{Load: index, On: w.Switch.s == "on"}
	case "power":
		if b.site.Plant.Loads[index].Kind == physics.ProfileLoad {
			b.add(w.Power.at, "power of a load that follows a profile", "another load, or switch", "")
		}
		e.Action = physics.SetLoad{Load: index, PowerW: w.Power.v}
	case "plug_in":
		p := &b.site.Plant.Chargers[index]
		e.Unfolds = seconds(p.ResponseS)
		if p.RampAps > 0 {
			e.Unfolds += seconds(min(w.PlugIn.v, p.MaxA) / p.RampAps)
		}
		e.Action = physics.PlugIn{Charger: index, CurrentA: w.PlugIn.v, EnergyWh: w.Energy.v}
	case "unplug":
		e.Action = physics.Unplug{Charger: index}
	case "cloud":
		c := w.Cloud
		if 2*c.Edge.v > c.Lasts.v {
			b.add(c.Lasts.at, shownAs("time", c.Lasts.v), "at least two edges of "+shownAs("time", c.Edge.v), "")
		}
		e.Unfolds = seconds(c.Lasts.v)
		if c.Enhancement.v > 0 { // it brightens one edge before, and one after
			e.Unfolds += seconds(2 * c.Edge.v)
		}
		e.Action = physics.PassCloud{Depth: c.Depth.v, EdgeS: c.Edge.v, LastsS: c.Lasts.v, Enhancement: c.Enhancement.v}
	case "broken_clouds":
		c := w.Broken
		if c.Word.set {
			e.Action = physics.FieldClouds()
			break
		}
		e.Action = physics.BrokenClouds{On: true, MeanGapS: c.Gap.v, MeanLastS: c.Lasts.v, MinDepth: c.Depth.low, MaxDepth: c.Depth.high,
			EdgeS: c.Edge.low, MaxEdgeS: c.Edge.high, MaxEnhancement: c.Enhancement.v}
	case "clear":
		e.Action = physics.BrokenClouds{}
	case "trip":
		if !wholeSteps(w.Trip.v, b.step) {
			b.add(w.Trip.at, shownAs("time", w.Trip.v), "a multiple of the step of "+shownAs("time", b.step.Seconds()), "")
		}
		e.Action = physics.Trip{Inverter: index, LastsS: w.Trip.v}
	case "soc":
		e.Action = physics.SetSOC{Inverter: index, SOC: w.SOC.v}
	case "told_soc":
		if b.site.Plant.Inverters[index].Battery.Report == nil {
			b.add(w.Told.at, "told_soc of a battery that tells the truth", "an inverter whose battery has reported in the site file", "")
		}
		e.Action = physics.JumpSOC{Inverter: index, By: w.Told.v}
	case "outage":
		e.Action = physics.Outage{}
		b.append(e)
		b.returns(e, w.Outage)
		return
	case "returns":
		e.Action = physics.GridReturns{}
	case "voltage":
		e.Action = physics.SetGridVoltage{VoltageV: w.Voltage.v}
	case "frequency":
		e.Action = physics.SetGridFrequency{FrequencyHz: w.Frequency.v}
	case "fault":
		b.fault(e, index, what)
		return
	case "kill", "start", "pause", "continue", "second_copy", "copy_ends", "clock":
		b.trial(e, verb, what)
		return
	}
	b.append(e)
}

// returns appends the end of an outage as an event of its own: what the site does
// then is judged.
func (b *eventBuilder) returns(e Event, lasts quantity) {
	if !lasts.set {
		return
	}
	e.At, e.Text, e.Action, e.Disturbs = e.At+seconds(lasts.v), "", physics.GridReturns{}, true
	switch {
	case e.At%b.step != 0:
		b.add(lasts.at, shownAs("time", lasts.v), "a multiple of the step of "+shownAs("time", b.step.Seconds()), "")
	case e.At < b.lasts:
		b.append(e)
	}
}

// unfold says how long broken clouds go on: until the sky is told something else, or to the end. The
// events are in order.
func (b *eventBuilder) unfold() {
	var last *Event
	for i := range b.events {
		e := &b.events[i]
		clouds, ok := e.Action.(physics.BrokenClouds)
		if !ok {
			continue
		}
		if last != nil {
			last.Unfolds = e.At - last.At
		}
		if last = nil; clouds.On {
			last = e
		}
	}
	if last != nil {
		last.Unfolds = b.lasts - last.At
	}
}

// append keeps an event, and tells people about it where the file does not.
func (b *eventBuilder) append(e Event) {
	if e.Text == "" {
		e.Text = e.Device + ": " + e.what()
	}
	b.events = append(b.events, e)
}

// fault makes a fault of a meter or of a link.
func (b *eventBuilder) fault(e Event, index int, what *entry[whatFile]) {
	w := &what.Value
	d, _ := b.site.Find(what.Name)
	kind := w.Fault.s
	if k := slices.Index(linkFaults, kind); k >= 0 && !(d.Kind == Meter && kind == Frozen.String()) {
		e.Link = b.linkFault(LinkFaultKind(k), b.reached(what.Name), w)
		b.append(e)
		return
	}
	if d.Kind != Meter || what.Name == ControllerName {
		name := "the controller"
		if what.Name != ControllerName {
			name = article(d.Kind.String())
		}
		b.add(w.Fault.at, kind+" of "+name, "one of "+strings.Join(linkFaults, ", "), "only meters are reversed")
		return
	}
	faults := map[string]physics.MeterFault{"frozen": physics.MeterFrozen, "reversed": physics.MeterReversed, "none": physics.MeterSound}
	e.Action = physics.SetMeterFault{Meter: index, Fault: faults[kind]}
	b.append(e)
	if !w.Lasts.set {
		return
	}
	if kind == "none" {
		b.add(w.Lasts.at, "lasts beside a meter that is sound again", "no lasts", "")
		return
	}
	end := e
	end.At, end.Text = e.At+seconds(w.Lasts.v), ""
	end.Action = physics.SetMeterFault{Meter: index, Fault: physics.MeterSound}
	switch {
	case end.At%b.step != 0:
		b.add(w.Lasts.at, shownAs("time", w.Lasts.v), "a multiple of the step of "+shownAs("time", b.step.Seconds()), "")
	case end.At < b.lasts:
		b.append(end)
	}
}
