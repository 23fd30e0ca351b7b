package probe

import (
	"context"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"kilter/emulator/registers"
)

// Report is what a look at a device found; one of Chain, Signals and Memory is there.
type Report struct {
	Address string `json:"address"`
	Unit    byte   `json:"unit"`
	// Identification is the device's own: vendor, product code, revision; missing where it gives none.
	Identification []string `json:"identification,omitempty"`
	Chain          *Chain   `json:"sunspec,omitempty"`
	// Map names the map by which Signals were decoded, power into the device and import positive.
	Map     string  `json:"map,omitempty"`
	Signals []Point `json:"signals,omitempty"`
	Memory  *Memory `json:"registers,omitempty"`
}

// Request says what to look at: signals by a map, a range of bare registers, or by default the SunSpec chain.
type Request struct {
	Map   *registers.Map
	Range *Range
}

// Look reads what is asked for. Where the device falls silent in the middle, there are both a report and an error;
// where nothing was found, the report is nil.
func Look(ctx context.Context, l *Link, want Request) (*Report, error) {
	r := &Report{Address: l.handler.Address, Unit: l.unit}
	var err error
	switch {
	case want.Range != nil:
		r.Memory, err = Dump(ctx, l, *want.Range)
	case want.Map != nil:
		d := want.Map.Describe()
		r.Map = d.Map
		r.Signals, err = Signals(ctx, l, d)
	default:
		r.Chain, err = SunSpec(ctx, l)
	}
	if !l.heard || err != nil && r.isEmpty() {
		return nil, err
	}
	// Identification is asked for last: a device that does not know the function may hang up on it.
	if err == nil {
		r.Identification, _ = l.Identify(ctx)
	}
	return r, err
}

// isEmpty tells whether nothing was read.
func (r *Report) isEmpty() bool {
	for i := range r.Signals {
		if r.Signals[i].Value != nil {
			return false
		}
	}
	return (r.Chain == nil || len(r.Chain.Models) == 0) && (r.Memory == nil || r.Memory.read == 0)
}

// WriteTable prints the report for people.
func (r *Report) WriteTable(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "%s, unit %d", r.Address, r.Unit)
	if len(r.Identification) > 0 {
		fmt.Fprintf(t, ": identifies itself as %s", strings.Join(r.Identification, ", "))
	}
	fmt.Fprintln(t)
	switch {
	case r.Chain != nil:
		r.Chain.table(t)
	case r.Memory != nil:
		fmt.Fprintln(t)
		r.Memory.table(t, "")
	default:
		fmt.Fprintf(t, "decoded by the map %s; power into the device, and import, is positive\n\n", r.Map)
		fmt.Fprintln(t, "SIGNAL\tVALUE\tRAW\tWHERE")
		for i := range r.Signals {
			p := &r.Signals[i]
			fmt.Fprintf(t, "%s\t%s\t%s\t%s %d\n", p.Name, p.Text(), p.Raw, p.Table, p.Address)
		}
	}
	return t.Flush()
}

func (c *Chain) table(w io.Writer) {
	fmt.Fprintf(w, "SunSpec chain at %d, %d models\n", c.Base, len(c.Models))
	for i := range c.Models {
		c.Models[i].table(w)
	}
	remarks(w, "", c.Remarks)
}

// table prints a model's points, and names those that the device does not implement in one line.
func (m *Model) table(w io.Writer) {
	name := m.Name
	if name == "" {
		name = "unknown"
	}
	fmt.Fprintf(w, "\nmodel %d %s, at %d, length %d\n", m.ID, name, m.Address, m.Length)
	var without []string
	for i := range m.Points {
		p := &m.Points[i]
		switch {
		case p.plumbing:
		case p.Value == nil:
			without = append(without, p.Name)
		default:
			fmt.Fprintf(w, "  %s\t%s\t%s\t%d\n", p.Name, p.Text(), p.Raw, p.Address)
		}
	}
	wrapped(w, "  not implemented:", without)
	if m.Registers != nil {
		m.Registers.table(w, "  ")
	}
	remarks(w, "  ", m.Remarks)
}

func remarks(w io.Writer, indent string, list []string) {
	for _, text := range list {
		fmt.Fprintf(w, "%snote: %s\n", indent, text)
	}
}

// wrapped prints words behind a title, in lines of some hundred characters.
func wrapped(w io.Writer, title string, words []string) {
	if len(words) == 0 {
		return
	}
	line := title
	for _, word := range words {
		if len(line)+1+len(word) > 100 {
			fmt.Fprintln(w, line)
			line = "   "
		}
		line += " " + word
	}
	fmt.Fprintln(w, line)
}

// table prints eight registers a line with their characters, or sixteen bits.
func (m *Memory) table(w io.Writer, indent string) {
	bits := m.Table == "coil" || m.Table == "discrete"
	each := 8
	if bits {
		each = 16
	}
	for start := 0; start < len(m.Values); start += each {
		row := m.Values[start:min(start+each, len(m.Values))]
		if m.isRefused(m.From+uint16(start), len(row)) {
			continue // the note below says so
		}
		fmt.Fprintf(w, "%s%s %5d ", indent, m.Table, int(m.From)+start)
		var text []byte
		for i, v := range row {
			switch {
			case m.isRefused(m.From+uint16(start+i), 1):
				fmt.Fprint(w, " ", map[bool]string{false: "----", true: "-"}[bits])
				text = append(text, ' ', ' ')
			case bits:
				fmt.Fprintf(w, " %d", v)
			default:
				fmt.Fprintf(w, " %04X", v)
				text = append(text, dot(byte(v>>8)), dot(byte(v)))
			}
		}
		if !bits {
			fmt.Fprintf(w, "%s  %s", strings.Repeat("     ", each-len(row)), strings.TrimRight(string(text), " "))
		}
		fmt.Fprintln(w)
	}
	for _, r := range m.Refused {
		fmt.Fprintf(w, "%snote: %d to %d: %s\n", indent, r.From, r.To, r.Why)
	}
}

// dot stands in for what cannot be printed.
func dot(c byte) byte {
	if c < ' ' || c > '~' {
		return '.'
	}
	return c
}
