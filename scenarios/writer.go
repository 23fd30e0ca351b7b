package scenarios

import (
	"reflect"
	"strconv"
	"strings"
	"unicode"
)

// written is a value on its way to text: a scalar, pairs or items.
type written struct {
	scalar string
	long   string // text of several lines
	pairs  []writtenPair
	items  []written
}

type writtenPair struct {
	key   string
	value written
}

// flowWidth is the longest mapping that stands on one line.
const flowWidth = 90

// write shows a file type as YAML that reads back as the same value. What is not
// set is left out.
func write(f any) []byte {
	var b strings.Builder
	for _, p := range writtenOf(reflect.ValueOf(f), field{}).pairs {
		p.layOut(&b, 0)
	}
	return []byte(b.String())
}

// inWords shows a file type on one line without its braces.
func inWords(f any) string {
	w := writtenOf(reflect.ValueOf(f), field{})
	if w.scalar != "" {
		return w.scalar
	}
	return strings.TrimSuffix(strings.TrimPrefix(w.flow(), "{"), "}")
}

// writtenOf takes a value apart. What comes back is empty for a value not set.
func writtenOf(v reflect.Value, f field) written {
	switch x := v.Interface().(type) {
	case quantity:
		if !x.set {
			return written{}
		}
		return written{scalar: f.dim.format(x.v)}
	case span:
		if !x.set {
			return written{}
		}
		if x.low == x.high {
			return written{scalar: f.dim.format(x.low)}
		}
		return written{scalar: f.dim.format(x.low) + " to " + f.dim.format(x.high)}
	case whole:
		if !x.set {
			return written{}
		}
		return written{scalar: strconv.FormatUint(x.v, 10)}
	case text:
		switch {
		case !x.set || x.s == "":
			return written{}
		case blockText(x.s):
			return written{long: x.s}
		}
		return written{scalar: quoteText(x.s)}
	}
	switch {
	case v.Kind() == reflect.Pointer:
		if v.IsNil() {
			return written{}
		}
		return writtenOf(v.Elem(), f)
	case isEntries(v.Type()):
		return writtenEntries(v)
	case v.Kind() == reflect.Slice:
		if v.IsNil() {
			return written{}
		}
		w := written{items: []written{}} // an empty list is said, unlike an absent one
		for i := range v.Len() {
			w.items = append(w.items, writtenOf(v.Index(i), f))
		}
		return w
	}
	w := written{pairs: []writtenPair{}}
	for _, f := range fieldsOf(v.Type()) {
		one := writtenOf(v.Field(f.index), f)
		switch {
		case one.empty():
		case f.isForm():
			return one
		case f.key == "*":
			w.pairs = append(w.pairs, one.pairs...)
		default:
			w.pairs = append(w.pairs, writtenPair{f.key, one})
		}
	}
	return w
}

func writtenEntries(v reflect.Value) written {
	var w written
	for i := range v.Len() {
		e := v.Index(i)
		w.pairs = append(w.pairs, writtenPair{e.FieldByName("Name").String(), writtenOf(e.FieldByName("Value"), field{})})
	}
	return w
}

func (w written) empty() bool {
	return w.scalar == "" && w.long == "" && w.pairs == nil && w.items == nil
}

// flow writes a value on one line.
func (w written) flow() string {
	var parts []string
	switch {
	case w.items != nil:
		for _, i := range w.items {
			parts = append(parts, i.flow())
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case w.pairs != nil:
		for _, p := range w.pairs {
			parts = append(parts, p.key+": "+p.value.flow())
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case w.long != "":
		return strconv.Quote(w.long)
	}
	return w.scalar
}

// depth counts how many levels of pairs are inside.
func (w written) depth() int {
	d := 0
	for _, p := range w.pairs {
		d = max(d, 1+p.value.depth())
	}
	for _, i := range w.items {
		d = max(d, 1+i.depth())
	}
	return d
}

// layOut writes one pair at an indentation, on one line where that is short.
func (p writtenPair) layOut(b *strings.Builder, indent int) {
	pad := strings.Repeat("  ", indent)
	b.WriteString(pad + p.key + ":")
	v := p.value
	switch {
	case v.long != "":
		b.WriteString(" |-\n")
		for line := range strings.Lines(v.long + "\n") {
			if line != "\n" {
				b.WriteString(pad + "  ")
			}
			b.WriteString(line)
		}
	case v.pairs == nil && v.items == nil,
		v.depth() <= 2 && len(v.flow())+len(pad)+len(p.key) < flowWidth:
		b.WriteString(" " + v.flow() + "\n")
	case v.items != nil:
		b.WriteString("\n")
		for _, i := range v.items {
			b.WriteString(pad + "  - " + i.flow() + "\n")
		}
	default:
		b.WriteString("\n")
		for _, inner := range v.pairs {
			inner.layOut(b, indent+1)
		}
	}
}

// blockText says whether a text of several lines can stand as a block.
func blockText(s string) bool {
	if !strings.Contains(s, "\n") || s != tidy(s) {
		return false
	}
	return !strings.ContainsFunc(s, func(r rune) bool { return r != '\n' && !unicode.IsPrint(r) })
}

// quoteText puts a text into quotes unless it reads back as itself without.
func quoteText(s string) string {
	safe := func(r rune) bool {
		return unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune(" _-/%.()", r)
	}
	first := []rune(s)[0]
	plainWord := unicode.IsLetter(first) && !strings.ContainsFunc(s, func(r rune) bool { return !safe(r) }) && s == strings.TrimSpace(s)
	switch strings.ToLower(s) {
	case "null", "true", "false", "nan", "inf":
		plainWord = false
	}
	if plainWord {
		return s
	}
	return strconv.Quote(s)
}
