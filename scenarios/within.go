package scenarios

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
)

// Within says between what a scenario may vary: named parameters, and what each does to the scenario.
//
// A case is a point of the unit cube, one coordinate a parameter. A change whose parameters are all at their plain values is not
// made, so that the plain case is the scenario as it stands.
type Within struct {
	Name, Title, Story string
	Parameters         []Parameter

	changes []variable
}

// variable is one change with parameters in its words.
type variable struct {
	path string
	said any // text, yaml.MapSlice or []any
	uses []int
	at   spot
}

// oneEventMore is the path of an event more.
const oneEventMore = "happens.+"

// Changes are what makes a scenario into the case of a point. Its coordinates are in the order of the parameters.
func (w *Within) Changes(x []float64) []Change {
	values := w.Values(x)
	var list []Change
	for i := range w.changes {
		if c := &w.changes[i]; w.disturbs(c, values) {
			list = append(list, c.with(w, values))
		}
	}
	return list
}

// Values are what the coordinates of a point stand for.
func (w *Within) Values(x []float64) []string {
	values := make([]string, len(w.Parameters))
	for k := range w.Parameters {
		values[k] = w.Parameters[k].Value(x[k])
	}
	return values
}

// Plain is the case in which nothing is disturbed. A parameter without a plain value is in the middle of its range, where it
// does nothing.
func (w *Within) Plain() []float64 {
	x := make([]float64, len(w.Parameters))
	for k := range w.Parameters {
		var is bool
		if x[k], is = w.Parameters[k].Plain(); !is {
			x[k] = 0.5
		}
	}
	return x
}

// Matters says of each parameter whether any change of this case depends on it.
func (w *Within) Matters(x []float64) []bool {
	values := w.Values(x)
	matters := make([]bool, len(w.Parameters))
	for i := range w.changes {
		if c := &w.changes[i]; w.disturbs(c, values) {
			for _, k := range c.uses {
				matters[k] = true
			}
		}
	}
	return matters
}

// disturbs says whether a change is made: one of its parameters is off its plain value. One without parameters goes along
// with any other, so that limits can be given for cases that are disturbed.
func (w *Within) disturbs(c *variable, values []string) bool {
	off := func(k int) bool { p := w.Parameters[k].plain; return p != "" && values[k] != p }
	if len(c.uses) > 0 {
		return slices.ContainsFunc(c.uses, off)
	}
	for k := range values {
		if off(k) {
			return true
		}
	}
	return false
}

// dollar is a parameter in a change's words.
var dollar = regexp.MustCompile(`\$[a-z][a-z0-9_-]*`)

// with fills the values in.
func (c *variable) with(w *Within, values []string) Change {
	said := filled(c.said, func(name string) string {
		k := slices.IndexFunc(w.Parameters, func(p Parameter) bool { return "$"+p.Name == name })
		return values[k]
	})
	if s, is := said.(string); is {
		return Change{c.path, s}
	}
	text, err := yaml.MarshalWithOptions(said, yaml.Flow(true))
	if err != nil {
		panic(fmt.Sprintf("scenarios: %v: %v", said, err)) // maps, lists and text alone
	}
	return Change{c.path, strings.TrimSpace(string(text))}
}

// filled is what a change says with other words for the parameters in it.
func filled(said any, value func(name string) string) any {
	switch node := said.(type) {
	case string:
		return dollar.ReplaceAllStringFunc(node, value)
	case yaml.MapSlice:
		list := make(yaml.MapSlice, len(node))
		for i, p := range node {
			list[i] = yaml.MapItem{Key: p.Key, Value: filled(p.Value, value)}
		}
		return list
	case []any:
		list := make([]any, len(node))
		for i, one := range node {
			list[i] = filled(one, value)
		}
		return list
	}
	return said
}

// Fit returns what holds for one scenario: plain values that are as it stands are looked up in it, and each change is tried by
// itself in the middle of its ranges. A change without parameters, such as of a limit, is only for scenarios that say something
// at its place. An error names the line of what does not fit.
func (w *Within) Fit(f *Form) (*Within, error) {
	fit := *w
	fit.Parameters = slices.Clone(w.Parameters)
	out := &findings{}
	for i := range fit.changes {
		fit.lookUp(&fit.changes[i], f, out)
	}
	if err := out.err(); err != nil {
		return nil, err
	}
	middle := make([]float64, len(fit.Parameters))
	for k := range middle {
		middle[k] = 0.5
	}
	values := fit.Values(middle)
	fit.changes = slices.DeleteFunc(slices.Clone(w.changes), func(c variable) bool {
		if len(c.uses) > 0 && !fit.disturbs(&c, values) {
			return false // the middle is plain
		}
		if _, err := f.With(c.with(&fit, values)); err != nil {
			first, _, _ := strings.Cut(err.Error(), "\n")
			out.add(c.at, "a change that does not fit "+f.name, "one that does", first)
		}
		_, stands := f.At(c.path)
		return len(c.uses) == 0 && !stands && c.path != oneEventMore
	})
	return &fit, out.err()
}

// lookUp finds the plain value of the parameter that a place takes, where it is as it stands.
func (w *Within) lookUp(c *variable, f *Form, out *findings) {
	said, is := c.said.(string)
	if !is || len(c.uses) != 1 || c.path == oneEventMore {
		return
	}
	p := &w.Parameters[c.uses[0]]
	if p.plain != asItStands || said != "$"+p.Name {
		return
	}
	found, is := f.At(c.path)
	if !is {
		out.add(c.at, "nothing at "+c.path+" of "+f.name, "a place that has a value, or a plain value for "+p.Name, "")
		return
	}
	if err := p.setPlain(found); err != "" {
		out.add(c.at, c.path+" of "+f.name+" at "+found, err, "the scenario's own value is to be plain")
	}
}
