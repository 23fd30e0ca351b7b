package wrong

import (
	"encoding/json"
	"fmt"

	"kilter/cmd/steady/control"
)

// entry is an object of the bench file.
type entry map[string]any

// misreads is the reference controller that takes something in the bench file for something else.
func misreads(change func(file entry)) func() parts {
	return func() parts {
		return parts{Program: control.Program{Bench: func(text []byte) ([]byte, error) {
			file := entry{}
			if err := json.Unmarshal(text, &file); err != nil {
				return nil, fmt.Errorf("bench file: %w", err)
			}
			change(file)
			return json.Marshal(file)
		}}}
	}
}

// device is a device's entry by its name; an empty one where there is none.
func (e entry) device(name string) entry {
	list, _ := e["devices"].([]any)
	for _, d := range list {
		if d, ok := d.(map[string]any); ok && d["name"] == name {
			return d
		}
	}
	return entry{}
}

// under is the object in a field; an empty one where there is none.
func (e entry) under(field string) entry {
	inner, _ := e[field].(map[string]any)
	return inner
}

// points are the registers of a device whose map is declared.
func (e entry) points() []entry {
	list, _ := e.under("registers")["points"].([]any)
	var points []entry
	for _, p := range list {
		if p, ok := p.(map[string]any); ok {
			points = append(points, p)
		}
	}
	return points
}

// point is the register of one signal; an empty one where there is none.
func (e entry) point(signal string) entry {
	for _, p := range e.points() {
		if p["signal"] == signal {
			return p
		}
	}
	return entry{}
}

// number is a field that is a number.
func (e entry) number(field string) float64 {
	x, _ := e[field].(float64)
	return x
}
