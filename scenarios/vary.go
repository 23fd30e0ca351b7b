package scenarios

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
)

// Change gives one place of a scenario another value.
type Change struct {
	// Path names the place in the words of the resolved scenario, with points between: must.import.below, or lasts. A path
	// may begin with the name of a device, meter or feeder of the site, and may then leave out what kind of device it is:
	// north.battery.capacity, north_ct.offset. A number counts the entries of a list from 1: happens.2.at; a + there
	// stands for a new entry at its end: happens.+.
	Path string
	// Value is as a file would have it: 4 kW, or {plug_in: 16 A}.
	Value string
}

// String shows a change as it is written on a command line.
func (c Change) String() string { return c.Path + "=" + c.Value }

// Form is a scenario in its resolved form, whose places can be given other values many times.
type Form struct {
	name string
	text []byte
	root yaml.MapSlice // of the text; changes are made to copies
}

// NewForm resolves a scenario.
func NewForm(s *Scenario) (*Form, error) {
	text, err := s.Resolve()
	if err != nil {
		return nil, err
	}
	f := &Form{name: s.Name, text: text}
	if err := yaml.UnmarshalWithOptions(text, &f.root, yaml.UseOrderedMap()); err != nil {
		return nil, fmt.Errorf("%s: %w", s.Name, err)
	}
	return f, nil
}

// With returns the scenario with the changes, made in their order. Its error names the path, or the place in the resolved
// scenario where a value does not fit.
func (f *Form) With(changes ...Change) (*Scenario, error) {
	text, err := f.Text(changes...)
	if err != nil {
		return nil, err
	}
	return ParseScenario(f.source(changes), text)
}

// source is what messages call a changed scenario.
func (f *Form) source(changes []Change) string {
	words := make([]string, len(changes))
	for i, c := range changes {
		words[i] = c.String()
	}
	return strings.Join(append([]string{f.name}, words...), " with ")
}

// Text is the file of the scenario with the changes, which nobody has read yet.
func (f *Form) Text(changes ...Change) ([]byte, error) {
	if len(changes) == 0 {
		return f.text, nil
	}
	var root any = f.root
	for _, c := range changes {
		var value any
		if err := yaml.UnmarshalWithOptions([]byte(c.Value), &value, yaml.UseOrderedMap()); err != nil {
			return nil, fmt.Errorf("%s: found a value that is no YAML, want one as a scenario has it, such as 4 kW", c)
		}
		var err error
		if root, err = f.put(root, strings.Split(c.Path, "."), c.Path, value); err != nil {
			return nil, err
		}
	}
	text, err := yaml.Marshal(root)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.name, err)
	}
	return text, nil
}

// At returns what stands at a path, as a file would have it; false where there is nothing.
func (f *Form) At(path string) (string, bool) {
	var at any = f.root
	for i, part := range strings.Split(path, ".") {
		keys, err := f.steps(at, part, path, i == 0)
		if err != nil {
			return "", false
		}
		for _, k := range keys {
			if at = child(at, k); at == nil {
				return "", false
			}
		}
	}
	text, err := yaml.MarshalWithOptions(at, yaml.Flow(true))
	if err != nil {
		return "", false
	}
	if s, is := at.(string); is {
		return s, true
	}
	return strings.TrimSpace(string(text)), true
}

// put gives a place under a node a value, and returns the node.
func (f *Form) put(root any, parts []string, path string, value any) (any, error) {
	var keys []any
	at := root
	for i, part := range parts {
		more, err := f.steps(at, part, path, i == 0)
		if err != nil {
			return nil, err
		}
		keys = append(keys, more...)
		for _, k := range more {
			at = child(at, k)
		}
	}
	return set(root, keys, value), nil
}

// steps are the keys that one part of a path stands for.
func (f *Form) steps(at any, part, path string, first bool) ([]any, error) {
	switch node := at.(type) {
	case yaml.MapSlice:
		if has(node, part) {
			return []any{part}, nil
		}
		if first {
			if keys := find(at, part); keys != nil {
				return keys, nil
			}
			_, hint := unknownWord(part, append(keysOf(node), names(at)...))
			if hint != "" {
				hint = "; " + hint
			}
			return nil, fmt.Errorf("%s: found %q, which is no key of %s and no name on its site%s", path, part, f.name, hint)
		}
		// What kind of device it is goes without saying.
		for _, p := range node {
			if inner, is := p.Value.(yaml.MapSlice); is && slices.Contains(kinds, fmt.Sprint(p.Key)) && has(inner, part) {
				return []any{p.Key, part}, nil
			}
		}
		return []any{part}, nil // not said so far; the reader knows whether it may be
	case []any:
		if part == "+" {
			return []any{len(node)}, nil
		}
		n, err := strconv.Atoi(part)
		if err != nil || n < 1 || n > len(node) {
			return nil, fmt.Errorf("%s: found %q, want a number from 1 to %d, or + for one more", path, part, len(node))
		}
		return []any{n - 1}, nil
	case nil:
		if part == "+" {
			return []any{0}, nil
		}
		return []any{part}, nil
	}
	return nil, fmt.Errorf("%s: found %q under %v, which has no parts", path, part, at)
}

// kinds are the words that say what a device is.
var kinds = []string{"inverter", "load", "array", "charger", "tariff"}

// holdsNamed says whether what stands at a key of a site has names of the site's own.
func holdsNamed(p yaml.MapItem) bool {
	return p.Key == "devices" || p.Key == "meters" || p.Key == "feeders"
}

// find looks for a device, meter or feeder, and returns the keys that lead to it.
func find(at any, name string) []any {
	node, is := at.(yaml.MapSlice)
	if !is {
		return nil
	}
	for _, p := range node {
		inner, is := p.Value.(yaml.MapSlice)
		if !is {
			continue
		}
		if holdsNamed(p) && has(inner, name) {
			return []any{p.Key, name}
		}
		if keys := find(inner, name); keys != nil {
			return append([]any{p.Key}, keys...)
		}
	}
	return nil
}

// names are those that find finds.
func names(at any) []string {
	var list []string
	if node, is := at.(yaml.MapSlice); is {
		for _, p := range node {
			inner, is := p.Value.(yaml.MapSlice)
			if is && holdsNamed(p) {
				list = append(list, keysOf(inner)...)
			}
			list = append(list, names(p.Value)...)
		}
	}
	return list
}

func keysOf(node yaml.MapSlice) []string {
	var list []string
	for _, p := range node {
		list = append(list, fmt.Sprint(p.Key))
	}
	return list
}

func has(node yaml.MapSlice, key string) bool {
	return slices.ContainsFunc(node, func(p yaml.MapItem) bool { return p.Key == key })
}

// child is what stands under a key, nil where nothing does.
func child(at, key any) any {
	switch node := at.(type) {
	case yaml.MapSlice:
		for _, p := range node {
			if p.Key == key {
				return p.Value
			}
		}
	case []any:
		if i, is := key.(int); is && i < len(node) {
			return node[i]
		}
	}
	return nil
}

// set returns the node with a value under the keys; what is missing on the way is made.
func set(at any, keys []any, value any) any {
	if len(keys) == 0 {
		return value
	}
	inner := set(child(at, keys[0]), keys[1:], value)
	if i, is := keys[0].(int); is {
		list, _ := at.([]any)
		list = slices.Clone(list)
		if i == len(list) {
			return append(list, inner)
		}
		list[i] = inner
		return list
	}
	node, _ := at.(yaml.MapSlice)
	node = slices.Clone(node)
	for i := range node {
		if node[i].Key == keys[0] {
			node[i].Value = inner
			return node
		}
	}
	return append(node, yaml.MapItem{Key: keys[0], Value: inner})
}
