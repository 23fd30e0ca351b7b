package scenarios

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// maxText bounds one text of a file.
const maxText = 16 << 10

// reader fills file types from a YAML document, strictly: what is not asked for
// is refused, and what is missing is asked for.
type reader struct {
	file     string
	findings *findings
}

// value reads one node into one field's value. The spot is the key's, for what
// is missing inside; a scalar stands at its own place.
func (r *reader) value(into reflect.Value, f field, n ast.Node, key spot) {
	at := nodeSpot(r.file, key.path, n)
	switch t := into.Type(); {
	case t == quantityType:
		if s, ok := r.scalarOf(n, at, f.dim.wanted()); ok {
			into.Set(reflect.ValueOf(r.quantity(s, f, at)))
		}
	case t == spanType:
		wanted := "two of " + f.dim.wanted() + ", low to high"
		if s, ok := r.scalarOf(n, at, wanted); ok {
			into.Set(reflect.ValueOf(r.span(s, f, at, wanted)))
		}
	case t == wholeType:
		if s, ok := r.scalarOf(n, at, "a whole number"); ok {
			into.Set(reflect.ValueOf(r.whole(s, f, at)))
		}
	case t == textType:
		if s, ok := r.scalarOf(n, at, textWanted(f)); ok {
			t := r.text(s, f, at)
			t.asIs = asIs(n, t.s)
			into.Set(reflect.ValueOf(t))
		}
	case t == rawType:
		into.Set(reflect.ValueOf(r.raw(n, at)))
	case t.Kind() == reflect.Pointer:
		made := reflect.New(t.Elem())
		r.mapping(made.Elem(), n, key)
		into.Set(made)
	case t.Kind() == reflect.Struct:
		r.mapping(into, n, key)
	case isEntries(t):
		r.entries(into, n, key)
	case t.Kind() == reflect.Slice:
		r.sequence(into, f, n, key)
	default:
		panic(fmt.Sprintf("scenarios: no way to read a %s", t))
	}
}

func textWanted(f field) string {
	switch {
	case f.words != nil:
		wanted, _ := unknownWord("", f.words)
		return wanted
	case f.form == "name":
		return nameWanted
	}
	return "text"
}

// scalarOf gives a node's text, or notes that it has none.
func (r *reader) scalarOf(n ast.Node, at spot, wanted string) (string, bool) {
	s, ok := scalar(n)
	if !ok {
		r.findings.add(at, describe(n), wanted, "")
	}
	return s, ok
}

func (r *reader) quantity(s string, f field, at spot) quantity {
	q := quantity{at: at, set: true}
	v, wanted, hint := f.dim.parse(s)
	if wanted != "" {
		r.findings.add(at, shown(s), wanted, hint)
		return q
	}
	q.v = v
	r.inRange(v, s, f, at)
	return q
}

func (r *reader) inRange(v float64, s string, f field, at spot) {
	if f.in == "" {
		return
	}
	if l := parseLimit(f.in, f.dim); !l.holds(v) {
		r.findings.add(at, s, l.text, "")
	}
}

func (r *reader) span(s string, f field, at spot, wanted string) span {
	sp := span{at: at, set: true}
	from, to, found := strings.Cut(s, " to ")
	if !found {
		to = from
	}
	var why string
	for i, part := range []string{from, to} {
		v, wrong, hint := f.dim.parse(part)
		if wrong != "" {
			r.findings.add(at, shown(s), wanted, hint)
			return sp
		}
		if l := parseLimit(f.in, f.dim); !l.holds(v) {
			why = l.text
		}
		if i == 0 {
			sp.low = v
		}
		sp.high = v
	}
	switch {
	case why != "":
		r.findings.add(at, s, why, "")
	case sp.low > sp.high:
		r.findings.add(at, s, wanted, "write "+strings.TrimSpace(to)+" to "+strings.TrimSpace(from))
	}
	return sp
}

func (r *reader) whole(s string, f field, at spot) whole {
	v, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		r.findings.add(at, shown(s), "a whole number", "")
		return whole{at: at, set: true}
	}
	if low, high, ok := wholeLimit(f.in); ok && (v < low || v > high) {
		r.findings.add(at, s, fmt.Sprintf("%d to %d", low, high), "")
	}
	return whole{at: at, v: v, set: true}
}

// wholeLimit reads the range tag of a whole number.
func wholeLimit(in string) (low, high uint64, ok bool) {
	a, b, found := strings.Cut(in, "..")
	if !found {
		return 0, 0, false
	}
	low, errLow := strconv.ParseUint(strings.TrimSpace(a), 10, 64)
	high, errHigh := strconv.ParseUint(strings.TrimSpace(b), 10, 64)
	if errLow != nil || errHigh != nil {
		panic("scenarios: tag " + in + " is no range of whole numbers")
	}
	return low, high, true
}

func (r *reader) text(s string, f field, at spot) text {
	s = tidy(s)
	switch {
	case len(s) > maxText:
		r.findings.add(at, fmt.Sprintf("%d bytes of text", len(s)), fmt.Sprintf("at most %d", maxText), "")
		return text{at: at, set: true}
	case f.form == "verb": // which words are right depends on the device
	case f.words != nil:
		for _, w := range f.words {
			if s == w {
				return text{at: at, s: s, set: true}
			}
		}
		wanted, hint := unknownWord(s, f.words)
		r.findings.add(at, quoted(s), wanted, hint)
	case s == "":
		r.findings.add(at, "empty text", textWanted(f), "")
	case f.form == "name" && !isName(s):
		r.findings.add(at, quoted(s), nameWanted, "")
	}
	return text{at: at, s: s, set: true}
}

// tidy removes blanks at the ends of lines and around the whole, which no reader
// sees and every editor treats differently.
func tidy(s string) string {
	if !strings.ContainsAny(s, "\n\r") {
		return strings.TrimSpace(s)
	}
	lines := strings.Split(strings.ReplaceAll(s, "\r\n", "\n"), "\n")
	for i, l := range lines {
		lines[i] = strings.TrimRight(l, " \t\r")
	}
	return strings.TrimSpace(strings.Join(lines, "\n"))
}

// shown is how a value that is no quantity stands in a message: numbers as they
// are, anything else in quotes.
func shown(s string) string {
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return s
	}
	return quoted(s)
}

// mapping fills a struct.
func (r *reader) mapping(into reflect.Value, n ast.Node, key spot) {
	fields := fieldsOf(into.Type())
	if at := into.FieldByName("At"); at.IsValid() {
		at.Set(reflect.ValueOf(key))
	}
	m, ok := n.(*ast.MappingNode)
	if !ok || !hasKeys(fields) {
		r.otherForm(into, fields, n, key)
		return
	}
	seen := r.once(m, key, "key", func(name string, n ast.Node, at spot) { r.pair(into, fields, name, n, at) })
	for _, f := range fields {
		if _, there := seen[f.key]; !there {
			r.absent(into.Field(f.index), f, key)
		}
	}
}

// once does something with each pair of a mapping but those whose key, called by its kind in the finding, was there
// before. It returns where each key stands.
func (r *reader) once(m *ast.MappingNode, key spot, kind string, do func(name string, n ast.Node, at spot)) map[string]spot {
	seen := map[string]spot{}
	for _, pair := range m.Values {
		name, at := r.key(pair, key)
		if first, twice := seen[name]; twice {
			r.findings.add(at, "the "+kind+" "+name+" again", "each "+kind+" once", fmt.Sprintf("it stands first at line %d", first.line))
			continue
		}
		seen[name] = at
		do(name, pair.Value, at)
	}
	return seen
}

// otherForm fills a struct from a scalar or a list, where it has a field for that.
func (r *reader) otherForm(into reflect.Value, fields []field, n ast.Node, key spot) {
	form := ""
	if _, isText := scalar(n); isText {
		form = "="
	} else if _, isList := n.(*ast.SequenceNode); isList {
		form = "[]"
	}
	for _, f := range fields {
		if f.key == form {
			r.value(into.Field(f.index), f, n, key)
			return
		}
	}
	r.findings.add(nodeSpot(r.file, key.path, n), describe(n), formsWanted(fields), keyList(fields))
}

// hasKeys says whether a struct can be written as keys with values.
func hasKeys(fields []field) bool {
	return len(fields) == 0 || slices.ContainsFunc(fields, func(f field) bool { return !f.isForm() })
}

// formsWanted says how a struct may be written.
func formsWanted(fields []field) string {
	if hasKeys(fields) {
		return "keys with values"
	}
	var forms []string
	for _, f := range fields {
		if f.key == "[]" {
			forms = append(forms, "a list")
		} else {
			forms = append(forms, textWanted(f))
		}
	}
	return listed(forms, "or")
}

func keyList(fields []field) string {
	var keys []string
	for _, f := range fields {
		if f.key != "*" && !f.isForm() {
			keys = append(keys, f.key)
		}
	}
	if len(keys) == 0 {
		return ""
	}
	return "its keys are " + strings.Join(keys, ", ")
}

// key gives a pair's key and where it stands.
func (r *reader) key(pair *ast.MappingValueNode, parent spot) (string, spot) {
	t := pair.Key.GetToken()
	at := tokenSpot(r.file, t)
	at.path = parent.path
	return t.Value, at.under(t.Value)
}

// pair reads one pair of a mapping into the field of that key.
func (r *reader) pair(into reflect.Value, fields []field, name string, n ast.Node, at spot) {
	var known []string
	for _, f := range fields {
		switch {
		case f.key == name && name != "*" && !f.isForm():
			r.value(into.Field(f.index), f, n, at)
			return
		case f.key == "*":
			r.entry(into.Field(f.index), name, n, at)
			return
		case !f.isForm():
			known = append(known, f.key)
		}
	}
	_, hint := unknownWord(name, known)
	if hint == "" {
		hint = keyList(fields)
	}
	r.findings.add(at, "the key "+quoted(name), "a key that is known here", hint)
}

// absent gives a field its value where the file has none.
func (r *reader) absent(into reflect.Value, f field, key spot) {
	at := key.under(f.key)
	switch {
	case f.required:
		wanted := ""
		switch {
		case f.dim != nil:
			wanted = f.dim.wanted()
		case into.Type() == textType:
			wanted = textWanted(f)
		case into.Type() == wholeType:
			wanted = "a whole number"
		default:
			wanted = f.doc
		}
		r.findings.add(at, "no "+f.key, wanted, "")
	case f.or == "":
		return
	case into.Type() == quantityType:
		v, _, _ := f.dim.parse(f.or)
		into.Set(reflect.ValueOf(quantity{at: at, v: v}))
	case into.Type() == spanType:
		v, _, _ := f.dim.parse(f.or)
		into.Set(reflect.ValueOf(span{at: at, low: v, high: v}))
	case into.Type() == wholeType:
		v, _ := strconv.ParseUint(f.or, 10, 64)
		into.Set(reflect.ValueOf(whole{at: at, v: v}))
	case into.Type() == textType:
		into.Set(reflect.ValueOf(text{at: at, s: f.or}))
	}
}

// entries fills a list of named entries.
func (r *reader) entries(into reflect.Value, n ast.Node, key spot) {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		r.findings.add(nodeSpot(r.file, key.path, n), describe(n), "names with values", "")
		return
	}
	r.once(m, key, "name", func(name string, n ast.Node, at spot) { r.entry(into, name, n, at) })
}

// entry appends one named entry.
func (r *reader) entry(into reflect.Value, name string, n ast.Node, at spot) {
	if !isName(name) {
		r.findings.add(at, "the name "+quoted(name), nameWanted, "")
		return
	}
	made := reflect.New(into.Type().Elem()).Elem()
	made.FieldByName("At").Set(reflect.ValueOf(at))
	made.FieldByName("Name").SetString(name)
	r.value(made.FieldByName("Value"), field{form: "name"}, n, at)
	into.Set(reflect.Append(into, made))
}

// sequence fills a list.
func (r *reader) sequence(into reflect.Value, f field, n ast.Node, key spot) {
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		r.findings.add(nodeSpot(r.file, key.path, n), describe(n), "a list", "write each on a line of its own after a -")
		return
	}
	into.Set(reflect.MakeSlice(into.Type(), 0, len(s.Values)))
	for i, one := range s.Values {
		at := nodeSpot(r.file, key.path+"["+strconv.Itoa(i+1)+"]", one)
		made := reflect.New(into.Type().Elem()).Elem()
		r.value(made, f, one, at)
		into.Set(reflect.Append(into, made))
	}
}
