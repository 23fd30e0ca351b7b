// Command gen writes the tables of package sunspec from the standard's JSON model definitions.
//
// It takes the folder that holds model_*.json as its argument, or from the environment variable
// KILTER_SUNSPEC. Only facts go into the tables: names, offsets, types, sizes, units and symbols, and none of
// the standard's descriptions.
package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"go/format"
	"os"
	"path/filepath"
	"slices"
)

type symbol struct {
	Name  string
	Value uint32
}

type point struct {
	Name, Type, SF, Access, Mandatory, Units string
	Size                                     uint16
	Symbols                                  []symbol
}

// UnmarshalJSON reads the one key whose JSON type varies: a scale factor is a point's name, or a number.
func (p *point) UnmarshalJSON(data []byte) error {
	var raw struct {
		Name, Type, Access, Mandatory, Units string
		SF                                   any
		Size                                 uint16
		Symbols                              []symbol
	}
	if err := json.Unmarshal(data, &raw); err != nil {
		return err
	}
	*p = point{Name: raw.Name, Type: raw.Type, Access: raw.Access, Mandatory: raw.Mandatory,
		Units: raw.Units, Size: raw.Size, Symbols: raw.Symbols}
	switch sf := raw.SF.(type) {
	case nil:
	case string:
		p.SF = sf
	default:
		return fmt.Errorf("point %s: scale factor %v is not the name of a point", raw.Name, sf)
	}
	if p.Size == 0 {
		return fmt.Errorf("point %s has no size", raw.Name)
	}
	return nil
}

type group struct {
	Name   string
	Count  any
	Points []point
	Groups []group
}

type model struct {
	ID    uint16
	Group group
}

func main() {
	out := flag.String("out", ".", "folder to write the tables to")
	flag.Parse()
	source := flag.Arg(0)
	if source == "" {
		source = os.Getenv("KILTER_SUNSPEC")
	}
	if err := run(source, *out); err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(2)
	}
}

func run(source, out string) error {
	if source == "" {
		return fmt.Errorf("name the folder of model_*.json as an argument or in KILTER_SUNSPEC")
	}
	files, err := filepath.Glob(filepath.Join(source, "model_*.json"))
	if err != nil {
		return err
	}
	if len(files) == 0 {
		return fmt.Errorf("no model_*.json in %s", source)
	}
	var ids []uint16
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		var m model
		if err := json.Unmarshal(data, &m); err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		if err := writeModel(out, m); err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		ids = append(ids, m.ID)
	}
	slices.Sort(ids)
	var b bytes.Buffer
	b.WriteString("// models lists every model in ascending order of id.\nvar models = []*Model{\n")
	for _, id := range ids {
		fmt.Fprintf(&b, "&model%d,\n", id)
	}
	b.WriteString("}\n")
	return writeFile(filepath.Join(out, "models.go"), b.Bytes())
}

func writeModel(out string, m model) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "var model%d = Model{ID: %d, Group: ", m.ID, m.ID)
	if err := writeGroup(&b, m.Group); err != nil {
		return err
	}
	b.WriteString("}\n")
	return writeFile(filepath.Join(out, fmt.Sprintf("model_%d.go", m.ID)), b.Bytes())
}

func writeGroup(b *bytes.Buffer, g group) error {
	fmt.Fprintf(b, "Group{Name: %q, ", g.Name)
	switch count := g.Count.(type) {
	case nil:
	case string:
		fmt.Fprintf(b, "Count: %q, ", count)
	default:
		return fmt.Errorf("group %s: count %v is not the name of a point", g.Name, count)
	}
	b.WriteString("Points: []Point{\n")
	offset := uint16(0)
	for _, p := range g.Points {
		writePoint(b, p, offset)
		offset += p.Size
	}
	b.WriteString("}")
	if len(g.Groups) > 0 {
		b.WriteString(", Groups: []Group{\n")
		for _, sub := range g.Groups {
			if err := writeGroup(b, sub); err != nil {
				return err
			}
			b.WriteString(",\n")
		}
		b.WriteString("}")
	}
	b.WriteString("}")
	return nil
}

func writePoint(b *bytes.Buffer, p point, offset uint16) {
	fmt.Fprintf(b, "{Name: %q, Offset: %d, Type: %q, Size: %d", p.Name, offset, p.Type, p.Size)
	if p.SF != "" {
		fmt.Fprintf(b, ", ScaleFactor: %q", p.SF)
	}
	if p.Units != "" {
		fmt.Fprintf(b, ", Unit: %q", p.Units)
	}
	if p.Access == "RW" {
		b.WriteString(", Writable: true")
	}
	if p.Mandatory == "M" {
		b.WriteString(", Mandatory: true")
	}
	if len(p.Symbols) > 0 {
		b.WriteString(", Symbols: []Symbol{")
		for i, s := range p.Symbols {
			if i > 0 {
				b.WriteString(", ")
			}
			fmt.Fprintf(b, "{%q, %d}", s.Name, s.Value)
		}
		b.WriteString("}")
	}
	b.WriteString("},\n")
}

func writeFile(name string, body []byte) error {
	head := "// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.\n\npackage sunspec\n\n"
	source, err := format.Source(append([]byte(head), body...))
	if err != nil {
		return fmt.Errorf("formatting %s: %w", name, err)
	}
	return os.WriteFile(name, source, 0o644)
}
