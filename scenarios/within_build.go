package scenarios

import (
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
)

// mostParameters bounds how many there may be: what a search has to cover grows with each.
const mostParameters = 64

// WithinNames lists the built-in files that say within what a scenario may vary.
func WithinNames() []string { return builtinList("within") }

// FindWithin reads the built-in one of that name, or else the file.
func FindWithin(nameOrPath string) (*Within, error) {
	if data := builtinText(builtinMark + "within/" + nameOrPath + ".yaml"); data != nil {
		return ParseWithin(builtinMark+"within/"+nameOrPath+".yaml", data)
	}
	if isName(nameOrPath) && !exists(nameOrPath) {
		wanted, hint := unknownWord(nameOrPath, WithinNames())
		return nil, fault(spot{file: nameOrPath}, "no built-in ranges of this name and no such file", wanted, hint)
	}
	data, err := readFile(nameOrPath, "a file of ranges, as kilter falsify --help shows one")
	if err != nil {
		return nil, err
	}
	return ParseWithin(nameOrPath, data)
}

// ParseWithin reads ranges that stand in memory; file is what messages call them.
func ParseWithin(file string, data []byte) (*Within, error) {
	f, out := &withinFile{}, &findings{}
	if err := readInto(f, file, data, out); err != nil {
		return nil, err
	}
	w := &Within{Name: slug(file), Title: f.Within.s, Story: f.Story.s}
	switch {
	case len(f.Parameters) == 0:
		out.add(f.At.under("parameters"), "no parameter", "at least one", "")
	case len(f.Parameters) > mostParameters:
		out.add(f.Parameters[mostParameters].At, fmt.Sprintf("%d parameters", len(f.Parameters)), fmt.Sprintf("at most %d", mostParameters), "")
	}
	for _, e := range f.Parameters {
		w.Parameters = append(w.Parameters, buildParameter(e.Name, e.Value, out))
	}
	for _, c := range f.Changes {
		w.change(c, f, out)
	}
	if out.err() == nil {
		w.settle(f, out)
	}
	return w, out.err()
}

func buildParameter(name string, f *parameterFile, out *findings) Parameter {
	p := Parameter{Name: name, About: f.About.s, Logarithmic: f.Scale.s == "logarithmic"}
	switch {
	case f.Range.set == (len(f.Words) > 0):
		out.add(f.At, "neither a range nor words, or both", "range: 2 min to 10 min, or words: [silent, slow]", "")
		return p
	case f.Range.set:
		p.spread(f, out)
	default:
		p.choose(f, out)
	}
	return p
}

// choose makes it a choice of words.
func (p *Parameter) choose(f *parameterFile, out *findings) {
	for _, w := range f.Words {
		if slices.Contains(p.Words, w.s) {
			out.add(w.at, "the word "+w.s+" again", "each word once", "")
		}
		p.Words = append(p.Words, w.s)
	}
	if len(p.Words) < 2 {
		out.add(f.Words[0].at, "one word", "at least two to choose from", "")
	}
	for _, t := range []text{f.Steps, f.Scale} {
		if t.set {
			out.add(t.at, t.s+" beside words", "words alone", "scale and steps_of are for ranges")
		}
	}
	p.plainly(f, out)
}

// spread makes it a range.
func (p *Parameter) spread(f *parameterFile, out *findings) {
	low, high, is := strings.Cut(f.Range.s, " to ")
	_, name := splitQuantity(high)
	p.dim = dimensions["number"]
	if name != "" {
		p.dim = unitHome(name)
	}
	if !is || p.dim == nil {
		hint := ""
		if is {
			hint = "the unit " + quoted(name) + " is not known here"
		}
		out.add(f.Range.at, quoted(f.Range.s), "two values with their unit, low to high, like 2 min to 10 min", hint)
		p.dim = nil
		return
	}
	for i, side := range []string{low, high} {
		v, wanted, hint := p.dim.parse(side)
		if wanted != "" {
			out.add(f.Range.at, shown(side), wanted, hint)
			p.dim = nil
			return
		}
		if i == 0 {
			p.low = v
		}
		p.high = v
	}
	switch {
	case p.low >= p.high:
		out.add(f.Range.at, f.Range.s, "the lower value first, and a higher one", "")
		p.dim = nil
		return
	case p.Logarithmic && p.low <= 0:
		out.add(f.Range.at, f.Range.s, "a range above 0", "its scale is logarithmic")
		p.dim = nil
		return
	}
	if !p.Logarithmic || p.dim == dimensions["time"] {
		p.grain = grainOf(p.low, p.high, p.dim)
	}
	if f.Steps.set {
		v, wanted, hint := p.dim.parse(f.Steps.s)
		switch {
		case wanted != "":
			out.add(f.Steps.at, shown(f.Steps.s), wanted, hint)
		case v <= 0 || v > p.high-p.low:
			out.add(f.Steps.at, f.Steps.s, "more than 0, and no more than the range", "")
		default:
			p.grain = v
		}
	}
	p.plainly(f, out)
}

// plainly notes the plain value.
func (p *Parameter) plainly(f *parameterFile, out *findings) {
	switch {
	case !f.Plain.set:
	case f.Plain.s == asItStands:
		p.plain = asItStands
	default:
		if wanted := p.setPlain(f.Plain.s); wanted != "" {
			out.add(f.Plain.at, quoted(f.Plain.s), wanted, "")
		}
	}
}

// setPlain takes a plain value, or says what would be right.
func (p *Parameter) setPlain(said string) (wanted string) {
	if p.Words != nil {
		i := slices.Index(p.Words, said)
		if i < 0 {
			return "one of its words, " + strings.Join(p.Words, ", ")
		}
		p.plain, p.plainAt = said, (float64(i)+0.5)/float64(len(p.Words))
		return ""
	}
	v, wanted, _ := p.dim.parse(said)
	if wanted != "" {
		return wanted
	}
	if v < p.low || v > p.high {
		return p.dim.format(p.low) + " to " + p.dim.format(p.high) + ", as its range has it"
	}
	p.plain, p.plainAt = p.dim.format(v), p.coordinate(v)
	return ""
}

// change takes one entry of the changes. A parameter that is faulty itself, or unknown, was told where it stands: what a change makes
// of it is no second fault.
func (w *Within) change(f *changeFile, all *withinFile, out *findings) {
	c := variable{at: f.At}
	switch {
	case f.Happens.set && !f.Place.set && !f.Value.set:
		c.path, c.said, c.at = oneEventMore, f.Happens.v, f.Happens.at
		if _, is := c.said.(yaml.MapSlice); !is {
			out.add(f.Happens.at, "an event without keys", "an event as a scenario has it, like {at: $when, north: {trip: 1 min}}", "")
		}
	case f.Place.set && f.Value.set && !f.Happens.set:
		c.path, c.said = f.Place.s, f.Value.v
	default:
		out.add(f.At, "a change of another kind", "place and value, or happens", "")
		return
	}
	disturbs, faulty := false, false
	filled(c.said, func(name string) string {
		k := slices.IndexFunc(w.Parameters, func(p Parameter) bool { return "$"+p.Name == name })
		switch {
		case k < 0:
			var known []string
			for _, p := range w.Parameters {
				known = append(known, "$"+p.Name)
			}
			wanted, hint := unknownWord(name, known)
			out.add(c.at, name, wanted, hint)
			faulty = true
		case !slices.Contains(c.uses, k):
			c.uses = append(c.uses, k)
			disturbs = disturbs || w.Parameters[k].plain != ""
			faulty = faulty || w.Parameters[k].plain == "" && all.Parameters[k].Value.Plain.set
		}
		return name
	})
	if len(c.uses) > 0 && !disturbs && !faulty {
		out.add(c.at, "a change that is made in every case", "a plain value for one of its parameters, at which nothing is changed", "")
	}
	w.changes = append(w.changes, c)
}

// settle looks at the parameters and the changes together.
func (w *Within) settle(f *withinFile, out *findings) {
	for k := range w.Parameters {
		p, at := &w.Parameters[k], f.Parameters[k].At
		used := func(c variable) bool { return slices.Contains(c.uses, k) }
		if !slices.ContainsFunc(w.changes, used) {
			out.add(at, "the parameter "+p.Name+", which changes nothing", "a change with $"+p.Name+" in its words", "")
		}
		place := func(c variable) bool { return c.said == "$"+p.Name && c.path != oneEventMore }
		if p.plain == asItStands && !slices.ContainsFunc(w.changes, place) {
			out.add(f.Parameters[k].Value.Plain.at, asItStands, "a value", "only a place with the value $"+p.Name+" could tell it")
		}
	}
}
