package probe

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"kilter/emulator/registers/sunspec"
)

// maxScale is the largest power of ten that a scale factor may state, either way (SunSpec Device Information Model
// Specification, type sunssf).
const maxScale = 10

// decode makes points of a model's registers, its header among them.
func (m *Model) decode(words []uint16) {
	model := sunspec.Find(m.ID)
	if model == nil {
		m.Remarks = append(m.Remarks, "not among the models that this program knows; its bare registers are shown")
		m.Registers = &Memory{Table: "holding", From: m.Address, Values: words}
		return
	}
	m.Name = model.Name
	d := decoder{model: m, words: words}
	d.group(&model.Group, "", nil)
	if rest := len(words) - d.at; rest > 0 {
		m.Remarks = append(m.Remarks, registersOf(rest)+" more than the standard's model has")
	}
	if d.missing > 0 {
		m.Remarks = append(m.Remarks, registersOf(d.missing)+" fewer than the standard's model has")
	}
}

func registersOf(n int) string {
	if n == 1 {
		return "1 register"
	}
	return fmt.Sprintf("%d registers", n)
}

// decoder goes through a model's registers from the first to the last.
type decoder struct {
	model   *Model
	words   []uint16
	at      int
	missing int
}

// scope is a group's numbers by name, for the scale factors and counts that points inside refer to.
type scope struct {
	numbers map[string]float64
	outer   *scope
}

func (s *scope) find(name string) (float64, bool) {
	for ; s != nil; s = s.outer {
		if x, has := s.numbers[name]; has {
			return x, true
		}
	}
	return 0, false
}

// group reads one repetition of a group, then the groups inside it. The scale factors may stand behind the points
// that they scale, so the group's numbers are taken first.
func (d *decoder) group(g *sunspec.Group, prefix string, outer *scope) {
	start := d.at
	inside := &scope{map[string]float64{}, outer}
	for i := range g.Points {
		p := &g.Points[i]
		if end := start + int(p.Offset+p.Size); end <= len(d.words) {
			if x, known := number(p.Type, d.words[start+int(p.Offset):end]); known {
				inside.numbers[p.Name] = x
			}
		}
	}
	for i := range g.Points {
		p := &g.Points[i]
		end := d.at + int(p.Size)
		if end > len(d.words) {
			d.missing += start + int(g.Registers()) - len(d.words)
			d.at = len(d.words)
			return
		}
		d.model.Points = append(d.model.Points, d.point(p, prefix, d.words[d.at:end], inside))
		d.at = end
	}
	for i := range g.Groups {
		sub := &g.Groups[i]
		if sub.Count == "" {
			d.group(sub, prefix+sub.Name+".", inside)
			continue
		}
		count, _ := inside.find(sub.Count)
		for n := 1; n <= int(count); n++ {
			if d.at >= len(d.words) {
				d.model.Remarks = append(d.model.Remarks, fmt.Sprintf("%s states %g of %s%s, and there are registers for %d", sub.Count, count, prefix, sub.Name, n-1))
				break
			}
			d.group(sub, fmt.Sprintf("%s%s[%d].", prefix, sub.Name, n), inside)
		}
	}
}

func (d *decoder) point(p *sunspec.Point, prefix string, words []uint16, inside *scope) Point {
	out := Point{
		Name: prefix + p.Name, Address: d.model.Address + uint16(d.at), Registers: p.Size, Type: string(p.Type),
		Unit: unitWord(p.Unit), plumbing: p.Type == sunspec.Scale || p.Type == sunspec.Pad || prefix == "" && d.at < sunspec.HeaderRegisters,
	}
	if p.Type == sunspec.String {
		if text := texts(words); text != "" {
			out.Value, out.text = text, text
		}
		return out
	}
	out.Raw = hex(words)
	x, known := number(p.Type, words)
	if !known {
		return out
	}
	if len(p.Symbols) > 0 {
		out.Value = x
		// The standard types 122.ECPConn as a bitfield, and describes it as "disconnected=0 connected=1"
		// (model_122.json): an enumeration.
		isEnum := p.Type == sunspec.Enum16 || p.Type == sunspec.Enum32 || d.model.ID == 122 && p.Name == "ECPConn"
		out.Words, out.text = symbols(p.Symbols, uint64(x), isEnum)
		return out
	}
	exponent := 0.0
	if p.ScaleFactor != "" && x == 0 && isAccumulator(p.Type) {
		if _, has := inside.find(p.ScaleFactor); !has {
			return out
		}
	}
	if p.ScaleFactor != "" {
		var has bool
		if exponent, has = inside.find(p.ScaleFactor); !has {
			exponent, out.Remark = 0, "not scaled, "+p.ScaleFactor+" is not implemented"
		} else if math.Abs(exponent) > maxScale {
			exponent, out.Remark = 0, fmt.Sprintf("not scaled, %s is %g", p.ScaleFactor, exponent)
		}
	}
	out.Value, out.text = scaled(p.Type, x, int(exponent))
	return out
}

// scaled is a number times a power of ten, in print with the decimals that its register has.
func scaled(t sunspec.Type, x float64, exponent int) (float64, string) {
	if t == sunspec.Float32 || t == sunspec.Float64 {
		bits := 64
		if t == sunspec.Float32 {
			bits = 32
		}
		return x, strconv.FormatFloat(x, 'f', -1, bits)
	}
	if exponent < 0 {
		x /= math.Pow10(-exponent)
		return x, strconv.FormatFloat(x, 'f', -exponent, 64)
	}
	x *= math.Pow10(exponent)
	return x, strconv.FormatFloat(x, 'f', 0, 64)
}

// unitWord is the symbol for a unit that the standard writes as a word.
func unitWord(unit string) string {
	switch unit = strings.TrimSpace(unit); unit {
	case "Pct":
		return "%"
	case "Secs":
		return "s"
	case "WH":
		return "Wh"
	case "C":
		return "degC"
	case "Var":
		return "var"
	}
	if base, is := strings.CutPrefix(unit, "%"); is {
		return strings.TrimSpace("% " + strings.TrimSpace(base))
	}
	return unit
}

// symbols are the words for an enumeration's value or a bitfield's bits.
func symbols(known []sunspec.Symbol, raw uint64, isEnum bool) (words []string, text string) {
	if isEnum {
		for _, s := range known {
			if uint64(s.Value) == raw {
				return []string{s.Name}, s.Name
			}
		}
		return nil, fmt.Sprintf("%d, which the standard has no word for", raw)
	}
	for bit := range uint32(64) {
		if raw>>bit&1 == 0 {
			continue
		}
		name := fmt.Sprintf("bit %d", bit)
		if i := slices.IndexFunc(known, func(s sunspec.Symbol) bool { return s.Value == bit }); i >= 0 {
			name = known[i].Name
		}
		words = append(words, name)
		if text != "" {
			text += " + "
		}
		text += name
	}
	if text == "" {
		text = "none"
	}
	return words, text
}

func isAccumulator(t sunspec.Type) bool {
	return t == sunspec.Acc16 || t == sunspec.Acc32 || t == sunspec.Acc64
}

// number is what registers of a SunSpec type say; false where they say that the point is not implemented, and for
// what is no number. An accumulator of zero is a count of zero as well as the sign of one that is not implemented;
// it is shown as the count.
func number(t sunspec.Type, words []uint16) (float64, bool) {
	var raw uint64
	for _, w := range words {
		raw = raw<<16 | uint64(w)
	}
	switch t {
	case sunspec.Int16, sunspec.Scale:
		return float64(int16(raw)), raw != 0x8000
	case sunspec.Int32:
		return float64(int32(raw)), raw != 0x80000000
	case sunspec.Int64:
		return float64(int64(raw)), raw != 1<<63
	case sunspec.Uint16, sunspec.Enum16, sunspec.Bitfield16:
		return float64(raw), raw != math.MaxUint16
	case sunspec.Uint32, sunspec.Enum32, sunspec.Bitfield32:
		return float64(raw), raw != math.MaxUint32
	case sunspec.Uint64:
		return float64(raw), raw != math.MaxUint64
	case sunspec.Acc16, sunspec.Acc32, sunspec.Acc64:
		return float64(raw), true
	case sunspec.Float32:
		x := float64(math.Float32frombits(uint32(raw)))
		return x, !math.IsNaN(x) && !math.IsInf(x, 0)
	case sunspec.Float64:
		x := math.Float64frombits(raw)
		return x, !math.IsNaN(x) && !math.IsInf(x, 0)
	}
	return 0, false
}
