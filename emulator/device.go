package emulator

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/physics"
	"kilter/scenarios"
)

// device is one device on the wire: it stands between the Modbus server, its registers and
// the plant.
type device struct {
	bench   *Bench
	name    string
	kind    scenarios.DeviceKind
	index   int // in the plant's list of its kind
	order   int // among the devices on the wire
	phases  physics.Phases
	ratedW  float64
	ratedA  float64
	reserve float64
	hasPV   bool // PV stands on its DC side

	wire      scenarios.Wire
	link      link
	layout    *registers.Map
	image     *registers.Image
	views     []*registers.Image // by controller, where there are several: the image with its own writes of one instant
	viewed    int64              // the tick of that instant
	servers   []*modbus.Server   // by controller, as the addresses and the talks
	addresses []string
	talks     []talk
	asked     Requests // since the last tick
	glimpses  []glimpse
	spoiled   int   // which of the link's spoils is active; -1 for none
	forgotten int64 // how often the plant had forgotten its commands
	shownTick int64 // the tick of the snapshot in the image
	remarks   map[caller]remark
}

var tables = [...]registers.Table{
	modbus.Coils:            registers.Coil,
	modbus.DiscreteInputs:   registers.Discrete,
	modbus.HoldingRegisters: registers.Holding,
	modbus.InputRegisters:   registers.Input,
}

// ReadRegisters answers from the snapshot of this instant.
func (d *device) ReadRegisters(from modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	d.bench.mutex.Lock()
	defer d.bench.mutex.Unlock()
	d.refresh()
	im := d.seenBy(from.Controller)
	err := im.Read(tables[table], address, dst)
	if err == nil {
		d.learn(im, table, address, len(dst))
	}
	return exception(err)
}

// WriteRegisters latches the registers and posts the commands in them.
func (d *device) WriteRegisters(from modbus.Peer, address uint16, values []uint16) error {
	return d.latch(from, modbus.HoldingRegisters, address, values, (*registers.Image).Write)
}

// ReadBits answers for coils and discrete inputs.
func (d *device) ReadBits(from modbus.Peer, table modbus.Table, address uint16, dst []bool) error {
	d.bench.mutex.Lock()
	defer d.bench.mutex.Unlock()
	d.refresh()
	words := make([]uint16, len(dst))
	err := d.seenBy(from.Controller).Read(tables[table], address, words)
	for i, w := range words {
		dst[i] = w != 0
	}
	return exception(err)
}

// WriteBits latches coils and posts the commands in them.
func (d *device) WriteBits(from modbus.Peer, address uint16, values []bool) error {
	words := make([]uint16, len(values))
	for i, on := range values {
		if on {
			words[i] = 1
		}
	}
	return d.latch(from, modbus.Coils, address, words, (*registers.Image).WriteCoils)
}

// latch writes to a table, puts the commands in it into the inbox and notes what became of them.
func (d *device) latch(from modbus.Peer, table modbus.Table, address uint16, values []uint16, write imageWrite) error {
	d.bench.mutex.Lock()
	defer d.bench.mutex.Unlock()
	if d.link.suffers(scenarios.Frozen, d.bench.now()) {
		return d.ignore(from)
	}
	if at, is := d.worn(table, address, len(values)); is {
		return d.wornOut(from, at)
	}
	var done []registers.Signal
	image := d.written(from.Controller)
	err := write(image, address, values, func(c registers.Command) {
		done = append(done, c.Signal)
		if image == d.image {
			d.bench.post(from.Controller, d, c)
		}
	})
	if err == nil {
		d.wear(table, address, len(values))
		if image != d.image {
			d.bench.hold(from.Controller, d, write, address, values)
		}
	}
	d.remember(from, image, tables[table], address, len(values), done, err)
	return exception(err)
}

// Identification names the device for function 2B/0E.
func (d *device) Identification() []string {
	return []string{"kilter bench", d.layout.Name, "1"}
}

// refresh puts this instant's snapshot into the image. The caller holds the mutex.
func (d *device) refresh() {
	tick := d.bench.plant.Tick()
	if d.shownTick == tick || d.shownTick >= 0 && (d.wire.Refresh > 0 || d.link.still(d.bench.now())) {
		return // what renews itself, or fails to, does so in renew
	}
	d.snap()
}

// renew takes the snapshots that a device takes by itself, whoever looks: in its rhythm, and the
// last one before its registers stand still. The caller holds the mutex.
func (d *device) renew() {
	now := d.bench.now()
	still := d.link.still(now)
	switch {
	case d.wire.Refresh > 0:
		if !still && now%d.wire.Refresh == 0 {
			d.snap()
		}
	case still && !d.link.still(now-time.Duration(d.bench.stepMS)*time.Millisecond):
		d.snap()
	}
}

// renews says whether a device ever takes a snapshot by itself.
func (d *device) renews() bool {
	return d.wire.Refresh > 0 || slices.ContainsFunc(d.link.faults.all(), func(f linkFault) bool { return f.Kind == scenarios.Stale || f.Kind == scenarios.Frozen })
}

func (d *device) snap() {
	var v registers.Values
	d.bench.fill(d, &v)
	d.image.Refresh(&v)
	d.shownTick = d.bench.plant.Tick()
}

// exception gives a refusal of the registers its Modbus code.
func exception(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, registers.ErrIllegalAddress):
		return modbus.IllegalDataAddress
	case errors.Is(err, registers.ErrIllegalValue):
		return modbus.IllegalDataValue
	}
	return modbus.ServerDeviceFailure
}

// wire opens a port for the clock and for each device on the wire.
func (b *Bench) wire() error {
	var err error
	if b.clock, err = newClock(b); err != nil {
		return err
	}
	if err := b.listenClock(); err != nil {
		return err
	}
	for _, sd := range b.scenario.Site.Devices {
		if sd.Wire == nil {
			continue
		}
		d, err := b.newDevice(sd)
		if err != nil {
			return err
		}
		b.devices = append(b.devices, d)
		b.tickSeen.Lost = append(b.tickSeen.Lost, false)
		if d.renews() {
			b.renewing = append(b.renewing, d)
			d.snap()
		}
	}
	for i := range b.controllers() {
		b.shared = append(b.shared, b.ports(i)...)
	}
	for _, p := range b.shared {
		if err := p.open(b); err != nil {
			return err
		}
	}
	for _, d := range b.devices {
		if len(d.link.spoils) > 0 {
			b.spoiling = append(b.spoiling, d)
			d.spoil(0)
		}
	}
	return nil
}

func (b *Bench) newDevice(sd scenarios.Device) (*device, error) {
	d := &device{
		bench: b, name: sd.Name, kind: sd.Kind, index: sd.Index, order: len(b.devices),
		wire: *sd.Wire, link: newLink(b.scenario, sd), shownTick: -1, spoiled: -1,
		talks: make([]talk, b.controllers()),
	}
	for i := range d.talks {
		d.talks[i].Device = sd.Name
	}
	opt := registers.Options{Base: sd.Wire.Base, Unit: sd.Wire.Unit, Sign: signOf(sd.Wire.Sign), Serial: sd.Name}
	site := b.plant.Site()
	switch sd.Kind {
	case scenarios.Inverter:
		p := &site.Inverters[sd.Index]
		d.phases, d.ratedW, d.reserve = p.Phases, p.RatingW, p.Battery.ReserveSOC
		opt.Settings = inverterSettings(site, sd.Index)
		d.hasPV = opt.Settings.HasPV
		opt.Ratings = registers.Ratings{
			PowerW: p.RatingW, ApparentPowerVA: p.RatingW, CurrentA: p.RatingW / site.Supply.VoltageV,
			ChargePowerW: p.RatingW, DischargePowerW: p.RatingW, CapacityWh: p.Battery.CapacityWh,
		}
	case scenarios.Array:
		p := &site.Arrays[sd.Index]
		d.phases, d.ratedW = p.Phases, p.RatingW
		opt.Settings = settingsOf(site, 0, p.Response)
		opt.Ratings = registers.Ratings{PowerW: p.RatingW, ApparentPowerVA: p.RatingW, CurrentA: p.RatingW / site.Supply.VoltageV}
	case scenarios.Charger:
		p := &site.Chargers[sd.Index]
		d.phases, d.ratedA = p.Phases, p.MaxA
	case scenarios.Meter:
		d.phases = site.Meters[sd.Index].Phases
		// A meter's scale must hold whatever the fuse lets through for a while.
		opt.Ratings.PowerW = 3 * site.Supply.FuseA * site.Supply.VoltageV * float64(site.Phases)
	}
	var err error
	if d.layout, err = b.layoutFor(sd); err != nil {
		return nil, fmt.Errorf("%s:%d: %s: %w", sd.Wire.File, sd.Wire.Line, sd.Name, err)
	}
	if err := d.layout.Check(opt); err != nil {
		return nil, fmt.Errorf("%s:%d: %s: %w", sd.Wire.File, sd.Wire.Line, sd.Name, err)
	}
	d.image = registers.NewImage(d.layout, opt)
	d.glimpses = glimpses(d.image)
	return d, nil
}

func signOf(s string) registers.SignChoice {
	switch s {
	case scenarios.ChargingPositive, scenarios.ImportPositive:
		return registers.SignInto
	case scenarios.DischargingPositive, scenarios.ExportPositive:
		return registers.SignOutOf
	}
	return registers.SignDefault
}

// The names of maps that ask for the standard's chain of models: with controls by models 123 and 124, with measured
// values in floating point, or by the 700 series.
const (
	sunspec      = "sunspec"
	sunspecFloat = "sunspec-float"
	sunspecDER   = "sunspec-der"
)

// isSunSpec tells whether a map's name asks for a chain that describes itself.
func isSunSpec(name string) bool {
	return name == sunspec || name == sunspecFloat || name == sunspecDER
}

// layoutKey is what decides on a device's map within one site.
type layoutKey struct {
	kind scenarios.DeviceKind
	name string
}

// layoutFor is layoutOf, but devices alike share one map: what is worked out of it takes many times the memory of
// one device's registers.
func (b *Bench) layoutFor(sd scenarios.Device) (*registers.Map, error) {
	key := layoutKey{sd.Kind, sd.Wire.Map}
	if m := b.layouts[key]; m != nil {
		return m, nil
	}
	m, err := layoutOf(sd, b.plant.Site().Phases)
	if err != nil {
		return nil, err
	}
	if b.layouts == nil {
		b.layouts = map[layoutKey]*registers.Map{}
	}
	b.layouts[key] = m
	return m, nil
}

// layoutOf finds the map that a device's wire names.
func layoutOf(sd scenarios.Device, phases int) (*registers.Map, error) {
	name := sd.Wire.Map
	if isSunSpec(name) {
		m := chainOf(name, sd.Kind, phases)
		if m == nil {
			return nil, fmt.Errorf("map %q: the standard has no such model for a %s; give it a declared map", name, sd.Kind)
		}
		return m, nil
	}
	if m, err := registers.Builtin(name); err == nil {
		return m, nil
	}
	src, err := os.ReadFile(name)
	if err != nil {
		why := "no such file"
		if !errors.Is(err, os.ErrNotExist) {
			why = fmt.Sprintf("a file that cannot be read (%v)", errors.Unwrap(err))
		}
		return nil, fmt.Errorf("map %q: %s; a map is built in (%s, %s) or a file",
			name, why, sunspec, strings.Join(registers.BuiltinNames(), ", "))
	}
	return registers.ParseMap(name, src)
}

// chainOf is the chain of models for a kind of device; nil where there is none.
func chainOf(name string, kind scenarios.DeviceKind, phases int) *registers.Map {
	var m *registers.Map
	switch kind {
	case scenarios.Inverter:
		if name == sunspecDER {
			return registers.SunSpecDER()
		}
		m = registers.SunSpecBattery(phases)
	case scenarios.Array:
		if name == sunspecDER {
			return registers.SunSpecDERPV()
		}
		m = registers.SunSpecPV(phases)
	case scenarios.Meter:
		m = registers.SunSpecMeter(phases)
	}
	if m != nil && name == sunspecFloat {
		return registers.SunSpecFloat(m)
	}
	return m
}
