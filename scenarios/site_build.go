package scenarios

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"kilter/physics"
)

// siteBuilder makes a site file into a Site, and notes what cannot be.
type siteBuilder struct {
	*findings
	clock *calendar
	site  *Site
	first map[string]spot // where each name stands first
	// What names a meter or an inverter is looked up once all are known.
	follow, onDC []reference
}

// reference is a name in the file, and what to do with the index that it stands for.
type reference struct {
	name text
	set  func(index int)
}

// reserved are the names that events and messages use for what is no device.
var reserved = map[string]string{
	"supply":       "the feeder at the inlet",
	SkyName:        "the sky in events",
	ControllerName: "the controller in events",
	"clock":        "the bench clock",
	"at":           "the time of an event",
	"text":         "the text of an event",
	"disturbs":     "a key of an event",
	"feeders":      "a key of the wiring tree",
	"grid":         "the grid itself",
	netLoadName:    "what the site draws without its inverters",
}

// The words for the models of the sky.
var (
	clearSkies = map[string]physics.ClearSkyModel{
		"haurwitz": physics.Haurwitz, "ineichen-perez": physics.IneichenPerez, "simplified-solis": physics.SimplifiedSolis,
	}
	diffuses = map[string]physics.SkyDiffuseModel{"liu-jordan": physics.LiuJordan, "hay-davies": physics.HayDavies}
)

// buildSite checks a complete site file and makes the Site. What the site does
// by the clock is laid on the calendar's run.
func buildSite(f *siteFile, clock *calendar) *Site {
	b := &siteBuilder{findings: clock.findings, clock: clock, site: &Site{}, first: map[string]spot{}}
	s := b.site
	s.Name, s.Title, s.Source = f.Site.s, f.Title.s, f.At.file
	s.Plant.StepMS = clock.step.Milliseconds()
	s.Plant.StartSecondOfDay = clock.secondOfDay()
	if p := f.Place; p != nil {
		s.Plant.Sky.LatitudeDeg, s.Plant.Sky.LongitudeDeg, s.Plant.Sky.AltitudeM = p.Latitude.v, p.Longitude.v, p.Altitude.v
	}
	if a := f.Air; a != nil {
		s.Plant.Sky.ClearSky = clearSkies[a.Model.s]
		s.Plant.Sky.Diffuse = diffuses[a.Diffuse.s]
		s.Plant.Sky.LinkeTurbidity, s.Plant.Sky.AerosolDepth, s.Plant.Sky.WaterCM = a.Turbidity.v, a.Aerosol.v, a.Water.v
	}
	if f.Supply == nil {
		b.add(f.At.under("supply"), "no supply", "the grid at the inlet, and all that is wired behind it", "")
		return s
	}
	b.supply(f.Supply)
	b.feeder("supply", -1, f.Supply.Meters, f.Supply.Devices, f.Supply.Feeders)
	b.references()
	if len(s.Plant.Arrays) > 0 && f.Place == nil {
		b.add(f.At.under("place"), "no place", "latitude and longitude, since there is an array", "")
	}
	return s
}

func (b *siteBuilder) supply(f *supplyFile) {
	if f.Phases.v == 2 {
		b.add(f.Phases.at, "2", "1 or 3", "")
	}
	b.site.Plant.Phases = int(f.Phases.v)
	s := &b.site.Plant.Supply
	s.VoltageV, s.FrequencyHz, s.FuseA = f.Voltage.v, f.Frequency.v, f.Fuse.v
	s.ImportLimitW, s.ExportLimitW = f.ImportLimit.v, f.ExportLimit.v
	if z := f.Impedance; z != nil {
		s.ResistanceOhm, s.ReactanceOhm = z.Resistance.v, z.Reactance.v
	}
	if z := f.Neutral; z != nil {
		s.NeutralOhm, s.NeutralXOhm = z.Resistance.v, z.Reactance.v
	}
	s.FuseMelts, s.FusePosition = f.FuseMelts.s == "yes", f.FusePlace.v
	if !s.FuseMelts {
		return
	}
	if _, err := physics.NewFuse(s.FuseA, s.FusePosition, 1); err != nil {
		b.add(f.FuseMelts.at, err.Error(), "a fuse whose characteristic is known", "it stands under supply.fuse")
	}
}

// feeder lays one feeder and all that is behind it; parents come before their
// children.
func (b *siteBuilder) feeder(name string, parent int, meters entries[meterFile], devices entries[deviceFile], feeders entries[*feederFile]) {
	at := len(b.site.Plant.Feeders)
	b.site.Plant.Feeders = append(b.site.Plant.Feeders, physics.Feeder{Name: name, Parent: parent})
	for i := range meters {
		if b.name(meters[i].Name, meters[i].At) {
			b.meter(meters[i].Name, at, &meters[i].Value)
		}
	}
	for i := range devices {
		if b.name(devices[i].Name, devices[i].At) {
			b.device(devices[i].Name, at, devices[i].At, &devices[i].Value)
		}
	}
	for i := range feeders {
		f := &feeders[i]
		if b.name(f.Name, f.At) {
			b.feeder(f.Name, at, f.Value.Meters, f.Value.Devices, f.Value.Feeders)
		}
	}
}

// name takes a name for the whole site, or cites who has it.
func (b *siteBuilder) name(name string, at spot) bool {
	if use, taken := reserved[name]; taken {
		b.add(at, "the name "+name, "another name", name+" stands for "+use)
		return false
	}
	if first, taken := b.first[name]; taken {
		b.add(at, "the name "+name+" again", "each name once on the whole site", "it stands first at "+first.String()+" ("+first.path+")")
		return false
	}
	b.first[name] = at
	return true
}

// list puts a device under its kind.
func (b *siteBuilder) list(name string, kind DeviceKind, index, feeder int, wire *wireFile) {
	b.site.Devices = append(b.site.Devices, Device{
		Name: name, Kind: kind, Index: index, Feeder: b.site.Plant.Feeders[feeder].Name, Wire: b.wire(kind, wire),
	})
}

func (b *siteBuilder) wire(kind DeviceKind, f *wireFile) *Wire {
	if f == nil {
		return nil
	}
	if kind == Load {
		b.add(f.At, "a wire on a load", "no wire", "loads do not answer on Modbus")
	}
	signs := map[DeviceKind]string{Inverter: ChargingPositive + "|" + DischargingPositive, Meter: ImportPositive + "|" + ExportPositive}
	if f.Sign.set && !strings.Contains(signs[kind], f.Sign.s) {
		wanted := strings.ReplaceAll(signs[kind], "|", " or ")
		if wanted == "" {
			wanted = "no sign on this kind of device"
		}
		b.add(f.Sign.at, quoted(f.Sign.s), wanted, "")
	}
	w := &Wire{
		Map: f.Map.s, Unit: byte(f.Unit.v), Sign: f.Sign.s, Base: int(f.Base.v),
		ReplyTimeout: seconds(f.ReplyTimeout.v), Refresh: seconds(b.ticks(f.Refresh)), Clients: int(f.Clients.v),
		Gap: seconds(f.Gap.v), Slow: seconds(f.Slow.v), Endurance: int(f.Endurance.v), File: f.At.file, Line: f.At.line,
	}
	b.link(w, f)
	if w.Slow >= w.ReplyTimeout {
		b.add(f.Slow.at, shownAs("time", f.Slow.v), "less than the reply_timeout of "+shownAs("time", f.ReplyTimeout.v), "a reply that comes later is none")
	}
	switch {
	case isMapFile(w.Map) && !namesFiles(f.Map.at.file):
		b.add(f.Map.at, "a register map in a file, in a scenario that was sent", "sunspec or the name of a built-in map", "whoever plays it has no such file")
	case isMapFile(w.Map):
		if !filepath.IsAbs(w.Map) {
			w.Map = filepath.Join(filepath.Dir(f.Map.at.file), w.Map)
		}
	case f.Map.set && !isName(w.Map):
		b.add(f.Map.at, quoted(w.Map), "sunspec, the name of a built-in map, or a file that ends in .yaml", "")
	}
	if w.Map == "sunspec" && !f.Base.set {
		w.Base = 40000
	}
	return w
}

// link says how the device is reached. On what is shared each unit id stands once.
func (b *siteBuilder) link(w *Wire, f *wireFile) {
	for _, x := range []struct {
		name text
		link Link
	}{{f.Gateway, Gateway}, {f.RTULine, RTULine}, {f.RTUOverTCP, RTUOverTCP}} {
		switch {
		case !x.name.set:
		case w.Link != OwnAddress:
			b.add(x.name.at, x.link.String()+" beside "+w.Link.String(), "one of the two", "a device is reached in one way")
		default:
			w.Link, w.Shared = x.link, x.name.s
		}
	}
	if w.Link == OwnAddress {
		return
	}
	for _, d := range b.site.Devices {
		if o := d.Wire; o != nil && o.Link == w.Link && o.Shared == w.Shared && o.Unit == w.Unit {
			b.add(f.At, "unit "+strconv.Itoa(int(w.Unit))+" again on "+w.Link.String()+" "+w.Shared, "a unit id of its own there", d.Name+" has it")
			return
		}
	}
}

// isMapFile tells a declared map's file from the name of a built-in map.
func isMapFile(name string) bool {
	return strings.HasSuffix(name, ".yaml") || strings.HasSuffix(name, ".yml")
}

func (b *siteBuilder) device(name string, feeder int, at spot, f *deviceFile) {
	p := &b.site.Plant
	kinds := 0
	add := func(kind DeviceKind, index int) {
		if kinds++; kinds == 1 {
			b.list(name, kind, index, feeder, f.Wire)
		}
	}
	if f.Inverter != nil {
		p.Inverters = append(p.Inverters, b.inverter(name, feeder, f.Inverter))
		add(Inverter, len(p.Inverters)-1)
	}
	if f.Array != nil {
		p.Arrays = append(p.Arrays, b.array(name, feeder, f.Array))
		add(Array, len(p.Arrays)-1)
	}
	if f.Load != nil {
		p.Loads = append(p.Loads, b.load(name, feeder, f.Load))
		add(Load, len(p.Loads)-1)
	}
	if f.Charger != nil {
		p.Chargers = append(p.Chargers, b.charger(name, feeder, f.Charger))
		add(Charger, len(p.Chargers)-1)
	}
	if f.Tariff != nil {
		add(Tariff, 0)
	}
	if kinds != 1 {
		b.add(at, fmt.Sprintf("%d kinds of device under one name", kinds), "exactly one of "+strings.Join(deviceWords, ", "), "")
	}
}

// deviceWords are the kinds that stand under devices.
var deviceWords = []string{"inverter", "array", "load", "charger", "tariff"}

// references finds the meters and inverters that others name.
func (b *siteBuilder) references() {
	p := &b.site.Plant
	var meters, inverters []string
	for _, m := range p.Meters {
		meters = append(meters, m.Name)
	}
	for _, v := range p.Inverters {
		inverters = append(inverters, v.Name)
	}
	b.lookUp(b.follow, meters, "meter")
	b.lookUp(b.onDC, inverters, "inverter")
}

func (b *siteBuilder) lookUp(list []reference, names []string, kind string) {
	for _, r := range list {
		if i := slices.Index(names, r.name.s); i >= 0 {
			r.set(i)
		} else if r.name.set {
			wanted, hint := unknownWord(r.name.s, names)
			b.add(r.name.at, "the unknown "+kind+" "+quoted(r.name.s), wanted, hint)
		}
	}
}

// follows notes that something follows a meter.
func (b *siteBuilder) follows(meter text, set func(index int)) {
	b.follow = append(b.follow, reference{meter, set})
}

func (b *siteBuilder) phases(f text) physics.Phases {
	p := map[string]physics.Phases{"L1": physics.L1, "L2": physics.L2, "L3": physics.L3}[f.s]
	if b.site.Plant.Phases == 1 && p > physics.L1 {
		b.add(f.at, f.s, "all or L1, since the supply has one phase", "")
	}
	return p
}

// ticks gives a time that must be a whole number of steps [s].
func (b *siteBuilder) ticks(q quantity) float64 {
	if !wholeSteps(q.v, b.clock.step) {
		b.add(q.at, shownAs("time", q.v), "a multiple of the step of "+shownAs("time", b.clock.step.Seconds()), "")
	}
	return q.v
}

func (b *siteBuilder) lessThan(phase, period quantity, what string) {
	if phase.v >= period.v && period.v > 0 {
		b.add(phase.at, shownAs("time", phase.v), "less than "+what+" of "+shownAs("time", period.v), "")
	}
}

// millis gives a time that must be a whole number of milliseconds.
func (f *findings) millis(q quantity) int64 {
	if !wholeSteps(q.v, time.Millisecond) {
		f.add(q.at, shownAs("time", q.v), "a whole number of milliseconds", "")
	}
	return seconds(q.v).Milliseconds()
}

// wholeSteps says whether a time [s] is a whole number of steps.
func wholeSteps(s float64, step time.Duration) bool {
	n := s / step.Seconds()
	return math.Abs(n) < 1e12 && math.Abs(n-math.Round(n)) < 1e-6
}

// seconds makes a time [s] a duration, to the nearest microsecond.
func seconds(s float64) time.Duration {
	return time.Duration(math.Round(s*1e6)) * time.Microsecond
}

// or gives the value, or another where the file has none.
func (q quantity) or(other float64) float64 {
	if q.set {
		return q.v
	}
	return other
}

// shownAs writes a value in the units of a dimension.
func shownAs(dimension string, v float64) string { return dimensions[dimension].format(v) }
