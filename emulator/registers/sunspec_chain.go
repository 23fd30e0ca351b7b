package registers

import (
	"fmt"
	"math"
	"sync"

	"kilter/emulator/registers/sunspec"
)

// SunSpecBase is where a chain starts unless the options say otherwise. Clients look at 40000, 0 and 50000.
const SunSpecBase = 40000

// SunSpecInverter is the chain of an inverter with storage: models 1, 103 (101 for one phase) and 120 to 124.
func SunSpecInverter(phases int) *Map {
	return mustChain(phases, "inverter", 1, 103, 120, 121, 122, 123, 124)
}

// SunSpecBattery is SunSpecInverter with models 713 and 802, which tell more of the battery.
func SunSpecBattery(phases int) *Map {
	return mustChain(phases, "battery inverter", 1, 103, 120, 121, 122, 123, 124, 713, 802)
}

// SunSpecPV is the chain of an inverter without storage: models 1, 103 (101 for one phase) and 120 to 123.
func SunSpecPV(phases int) *Map {
	return mustChain(phases, "pv inverter", 1, 103, 120, 121, 122, 123)
}

// SunSpecDER is the chain of an inverter with storage by the 700 series: models 1, 701 to 706, 711, 713, 714 and 802.
func SunSpecDER() *Map {
	return mustDER("der", 701, 702, 703, 704, 705, 706, 711, 713, 714, 802)
}

// SunSpecDERPV is SunSpecDER for an inverter without storage.
func SunSpecDERPV() *Map {
	return mustDER("der pv", 701, 702, 703, 704, 705, 706, 711, 714)
}

func mustDER(name string, models ...uint16) *Map {
	return shared("sunspec "+name, append([]uint16{1}, models...)...)
}

// SunSpecMeter is the chain of a meter: models 1 and 203 (201 for one phase).
func SunSpecMeter(phases int) *Map {
	return mustChain(phases, "meter", 1, 203)
}

// SunSpecFloat is the chain of models in which another one tells the AC side in floating point: 113 (111) in place of
// 103 (101), and 213 (211) in place of 203 (201).
func SunSpecFloat(other *Map) *Map {
	var models []uint16
	for _, id := range other.models {
		switch {
		case id >= 101 && id <= 103, id >= 201 && id <= 204:
			id += 10
		}
		models = append(models, id)
	}
	return shared(other.Name+" in floating point", models...)
}

// mustChain makes a chain; the model of three phases gives way to that of one.
func mustChain(phases int, name string, models ...uint16) *Map {
	if phases == 1 {
		models[1] -= 2
		name = "single-phase " + name
	}
	return shared("sunspec "+name, models...)
}

// ready are the chains that have been made, by name.
var ready sync.Map

// shared makes a chain that is known to be right, once: devices on one map share its layouts.
func shared(name string, models ...uint16) *Map {
	if m, has := ready.Load(name); has {
		return m.(*Map)
	}
	m, err := SunSpecMap(name, models...)
	if err != nil {
		panic(err)
	}
	first, _ := ready.LoadOrStore(name, m)
	return first.(*Map)
}

// SunSpecMap makes the map of any chain of models, opened by the marker and closed by the end model. Points
// that the bench has no value for, and whole models, read as unimplemented; groups that repeat stand there as often as
// the device's settings fill them. Model 1 must come first, and no command may stand in two writable points.
func SunSpecMap(name string, models ...uint16) (*Map, error) {
	if len(models) == 0 || models[0] != 1 {
		return nil, fmt.Errorf("%s: a chain opens with model 1", name)
	}
	chain := make([]*sunspec.Model, len(models))
	for i, id := range models {
		if chain[i] = sunspec.Find(id); chain[i] == nil {
			return nil, fmt.Errorf("%s: no SunSpec model %d; there are %v", name, id, sunspec.IDs())
		}
		for _, earlier := range models[:i] {
			if earlier == id {
				return nil, fmt.Errorf("%s: model %d stands twice", name, id)
			}
		}
	}
	resolve := func(key layoutKey) []Point { return resolveChain(chain, key) }
	m := &Map{Name: name, Points: resolve(layoutKey{ratings: assumed(Ratings{})}), resolve: resolve, models: models}
	writable := map[Signal]*Point{}
	for i := range m.Points {
		p := &m.Points[i]
		if !p.Writable || p.Signal == NoSignal {
			continue
		}
		if other := writable[p.Signal]; other != nil && !p.excludes(other) {
			return nil, fmt.Errorf("%s: %s and %s would both command %s", name, other.Name, p.Name, p.Signal)
		}
		writable[p.Signal] = p
	}
	return m, nil
}

// builder lays the models of one chain one after the other.
type builder struct {
	key     layoutKey
	ratings Ratings
	next    uint16
	points  []Point
}

func resolveChain(chain []*sunspec.Model, key layoutKey) []Point {
	b := &builder{key: key, ratings: assumed(key.ratings), next: SunSpecBase}
	switch {
	case key.base == AtZero:
		b.next = 0
	case key.base > 0:
		b.next = uint16(key.base)
	}
	b.fixed("SunS", sunspec.Marker[:])
	for _, m := range chain {
		b.model(m)
	}
	b.fixed("end.ID", []uint16{sunspec.EndModel})
	b.fixed("end.L", []uint16{0})
	return b.points
}

// assumed fills in ratings that are not known, only so that scale factors can be chosen: 15 kW keeps powers in
// whole watts.
func assumed(r Ratings) Ratings {
	orElse := func(x *float64, other float64) {
		if *x == 0 {
			*x = other
		}
	}
	orElse(&r.PowerW, 15000)
	orElse(&r.ApparentPowerVA, r.PowerW)
	orElse(&r.CurrentA, r.ApparentPowerVA/230)
	orElse(&r.ChargePowerW, r.PowerW)
	orElse(&r.DischargePowerW, r.PowerW)
	orElse(&r.CapacityWh, 60000)
	return r
}

func (b *builder) fixed(name string, words []uint16) {
	b.add(Point{Name: name, Signal: NoSignal, Type: Uint16, Registers: uint16(len(words)), Fixed: words})
}

func (b *builder) add(p Point) {
	p.Address = b.next
	if p.Scale == 0 {
		p.Scale = 1
	}
	if p.Sign == 0 {
		p.Sign = 1
	}
	b.next += p.Registers
	b.points = append(b.points, p)
}

func (b *builder) model(m *sunspec.Model) {
	bindings, counts := bindingsOf(m.ID, b.key)
	exponents := b.exponents(m, bindings, counts)
	each(&m.Group, "", counts, func(g *sunspec.Group, p *sunspec.Point, path string) {
		name := fmt.Sprintf("%d.%s%s", m.ID, path, p.Name)
		bound, known := bindings[path+p.Name]
		exponent, scaled := exponents[p.Name]
		switch {
		case p.Name == "ID" && path == "":
			b.fixed(name, []uint16{m.ID})
		case p.Name == "L" && path == "":
			b.fixed(name, []uint16{uint16(m.Length(counts))})
		case p.Type == sunspec.Scale && scaled:
			b.fixed(name, []uint16{uint16(int16(exponent))})
		case repeats(g, p.Name):
			b.fixed(name, []uint16{counts[p.Name]})
		case known && bound.fixedText != "":
			words := make([]uint16, p.Size)
			Order{}.putText(words, bound.fixedText)
			b.fixed(name, words)
		case known && b.isThere(bound):
			b.add(b.bind(m, p, name, bound, exponents[p.ScaleFactor]))
		default:
			b.fixed(name, sunspec.Unimplemented(p.Type, p.Size))
		}
	})
}

// each calls f with every point of a group and of the groups inside it, as often as they repeat. The path is empty for
// the model's own points, and else such as "PFWInj." or "Crv[1].Pt[2].".
func each(g *sunspec.Group, path string, counts map[string]uint16, f func(g *sunspec.Group, p *sunspec.Point, path string)) {
	for i := range g.Points {
		f(g, &g.Points[i], path)
	}
	for i := range g.Groups {
		sub := &g.Groups[i]
		if sub.Count == "" {
			each(sub, path+sub.Name+".", counts, f)
			continue
		}
		for n := range counts[sub.Count] {
			each(sub, fmt.Sprintf("%s%s[%d].", path, sub.Name, n+1), counts, f)
		}
	}
}

// repeats tells whether the point counts the repetitions of a group, at any depth.
func repeats(g *sunspec.Group, point string) bool {
	for i := range g.Groups {
		if g.Groups[i].Count == point || repeats(&g.Groups[i], point) {
			return true
		}
	}
	return false
}

// exponents chooses the power of ten of each scale-factor point that a bound point uses: the finest at which the
// largest value of each of its points fits the register.
func (b *builder) exponents(m *sunspec.Model, bindings map[string]binding, counts map[string]uint16) map[string]int {
	exponents := map[string]int{}
	each(&m.Group, "", counts, func(_ *sunspec.Group, p *sunspec.Point, path string) {
		bound, known := bindings[path+p.Name]
		if !known || p.ScaleFactor == "" || !b.isThere(bound) {
			return
		}
		largest, finest := b.reach(bound)
		exponent := max(finest, fitting(largest, pointType(p.Type)))
		if other, seen := exponents[p.ScaleFactor]; !seen || exponent > other {
			exponents[p.ScaleFactor] = exponent
		}
	})
	return exponents
}

// fitting is the smallest power of ten by which a register of the type can hold the value.
func fitting(largest float64, t Type) int {
	limit := float64(t.absent() - 1)
	exponent := -10
	for largest/math.Pow10(exponent) > limit {
		exponent++
	}
	return exponent
}

// pointType is the encoding of a SunSpec number.
func pointType(t sunspec.Type) Type {
	switch t {
	case sunspec.Int16, sunspec.Scale:
		return Int16
	case sunspec.Uint32, sunspec.Enum32, sunspec.Bitfield32, sunspec.Acc32:
		return Uint32
	case sunspec.Int32:
		return Int32
	case sunspec.Uint64, sunspec.Acc64:
		return Uint64
	case sunspec.Int64:
		return Int64
	case sunspec.Float32:
		return Float32
	case sunspec.Float64:
		return Float64
	case sunspec.String:
		return Text
	}
	return Uint16
}
