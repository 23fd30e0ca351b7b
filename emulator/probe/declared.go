package probe

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"kilter/emulator/registers"
)

// Signals reads each point that a map declares, on its own, so that one that the device refuses does not hide its
// neighbours. It is an error where the device answers none of them.
func Signals(ctx context.Context, l *Link, d registers.Description) ([]Point, error) {
	points := make([]Point, 0, len(d.Points))
	refused := 0
	for i := range d.Points {
		p := &d.Points[i]
		out := Point{Name: p.Name, Table: p.Table, Address: p.Address, Registers: p.Registers, Type: p.Type, Unit: p.Unit}
		table, err := registers.ParseTable(p.Table)
		if err != nil {
			return nil, err
		}
		words, err := readAll(ctx, l, table, p.Address, int(p.Registers))
		switch {
		case err == nil:
			out.declared(&d, p, words)
		case !answered(err) && !l.heard, ctx.Err() != nil:
			return points, l.explain(p.Name, err)
		default:
			out.Remark = inWords(err)
			refused++
		}
		points = append(points, out)
	}
	if refused == len(points) && refused > 0 {
		return points, fmt.Errorf("%s: none of the map's %d points could be read (%s: %s); is this the device's map, and --unit right?",
			l.handler.Address, refused, points[0].Name, points[0].Remark)
	}
	return points, nil
}

// declared decodes a point as its description says.
func (p *Point) declared(d *registers.Description, said *registers.PointDescription, words []uint16) {
	p.Raw = hex(words)
	if said.Type == registers.Bit.String() {
		p.Raw = strconv.Itoa(int(words[0]))
	} else if d.ByteOrder == "low byte first" {
		for i, w := range words {
			words[i] = w<<8 | w>>8
		}
	}
	if said.Type == registers.Text.String() {
		p.Raw = ""
		if text := texts(words); text != "" {
			p.Value, p.text = text, text
		}
		return
	}
	if d.WordOrder == "low word first" {
		slices.Reverse(words)
	}
	var raw uint64
	for _, w := range words {
		raw = raw<<16 | uint64(w)
	}
	if said.Unknown != "" && fmt.Sprintf("0x%0*X", 4*said.Registers, raw) == said.Unknown {
		return
	}
	if len(said.Words) > 0 {
		p.Value, p.text = float64(raw), fmt.Sprintf("%d, which the map has no word for", raw)
		for _, w := range said.Words {
			if w.Raw == raw {
				p.Value, p.Words, p.text = w.Value, []string{w.Word}, w.Word
			}
		}
		return
	}
	x := plain(said.Type, raw)
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return
	}
	x = float64(said.Sign)*(float64(x*said.Scale)+said.Offset) + 0
	p.Value, p.text = x, inPrint(x, said.Scale, said.Type)
	if s, err := registers.ParseSignal(said.Signal); err == nil && s.IsFraction() {
		p.text = inPrint(100*x, 100*said.Scale, said.Type) + " %"
	}
}

// plain is the number in a register, before scale and sign.
func plain(kind string, raw uint64) float64 {
	switch kind {
	case "int16":
		return float64(int16(raw))
	case "int32":
		return float64(int32(raw))
	case "int64":
		return float64(int64(raw))
	case "float32":
		return float64(math.Float32frombits(uint32(raw)))
	case "float64":
		return math.Float64frombits(raw)
	}
	return float64(raw)
}

// inPrint writes a value with the decimals that its scale has, and a float with six significant digits.
func inPrint(x, scale float64, kind string) string {
	if strings.HasPrefix(kind, "float") {
		return strconv.FormatFloat(x, 'g', 6, 64)
	}
	decimals := 0
	for decimals < 9 && math.Abs(scale-math.Round(scale)) > 1e-9*math.Abs(scale) {
		scale *= 10
		decimals++
	}
	return strconv.FormatFloat(x, 'f', decimals, 64)
}
