package registers

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// maxMapFile is the largest map file that is read; a map of 65536 registers fits many times over.
const maxMapFile = 4 << 20

// mapFile is a declared map while it is being read.
type mapFile struct {
	name      string
	m         *Map
	addresses addressStyle
	entries   []entry
}

// entry is one signal of the file, with its place.
type entry struct {
	point Point
	place place
	// need is the condition as written, until all signals are known.
	need      string
	needPlace place
}

// place is where something stands in the file, both counted from 1.
type place struct{ line, column int }

func (p place) plus(columns int) place { return place{p.line, p.column + columns} }

// addressStyle is how a file counts addresses.
type addressStyle uint8

const (
	fromZero addressStyle = iota
	fromOne
	tableNumbers
)

// LoadMap reads a declared map from a file.
func LoadMap(path string) (*Map, error) {
	src, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return ParseMap(path, src)
}

// ParseMap reads a declared map: a YAML file in which users describe their own device, one line a signal. The file
// name only serves error messages; an error is a *MapError.
//
//	format: 1                      # may be left out
//	map: my inverter               # a name
//	words: high word first         # or: low word first
//	bytes: high byte first         # or: low byte first
//	addresses: from 0              # or: from 1, or: 4xxxx numbers
//	gaps: refuse                   # or: read as 0, between the first and the last register of a table
//	signals:
//	  SIGNAL: TABLE ADDRESS TYPE x SCALE UNIT, CLAUSE, CLAUSE
//
// SIGNAL is a word of the vocabulary, or maker, model, version or serial for a text. A second register of the same
// signal carries a label, as in soc/second. The labels charging, discharging, importing, exporting, consuming and
// producing make a register show that one direction only; two such registers together command a signal, or show it.
//
// TABLE is holding, input, coil or discrete. ADDRESS is decimal, or hexadecimal with 0x. TYPE is uint16, int16,
// uint32, int32, uint64, int64, float32, float64 or string(N) with N characters; coils and discrete inputs hold a
// bit, and need no type. The value is the raw number x SCALE, in UNIT: W, kW, var, kvar, VA, kVA, Wh, kWh, V, A, Hz,
// degC, %, s, ms or min. States and plain numbers have no unit, and fractions may do without one.
//
// A CLAUSE is one of
//
//	discharge positive, export positive, producing positive   positive means out of the device
//	charge positive, import positive, consuming positive      positive means into it: the default
//	writable                       the register takes commands
//	LO..HI                         what may be written, in the unit of the line
//	lasts 60 s                     a written value is obeyed for so long
//	needs SIGNAL = VALUE           a written value is obeyed while that register holds the word or raw number
//	values {0 = hold, 1 = charge}  raw numbers for the states of a signal such as mode
//	offset -40                     is added to raw number x SCALE, in the unit of the line
//
// In values a colon does for the equals sign if the whole line is quoted, as YAML demands.
func ParseMap(filename string, src []byte) (*Map, error) {
	f := &mapFile{name: filename, m: &Map{}}
	root, err := f.root(src)
	if err != nil {
		return nil, err
	}
	if err := f.read(root); err != nil {
		return nil, err
	}
	if err := f.checkOverlaps(); err != nil {
		return nil, err
	}
	if err := f.checkCommands(); err != nil {
		return nil, err
	}
	if err := f.resolveNeeds(); err != nil {
		return nil, err
	}
	for i := range f.entries {
		f.m.Points = append(f.m.Points, f.entries[i].point)
	}
	return f.m, nil
}

func (f *mapFile) fail(at place, path, found, want string) *MapError {
	return &MapError{File: f.name, Line: at.line, Column: at.column, Path: path, Found: found, Want: want}
}

// root parses the YAML and returns the mapping at the top.
func (f *mapFile) root(src []byte) (mapping []*ast.MappingValueNode, err error) {
	start := place{1, 1}
	if len(src) > maxMapFile {
		return nil, f.fail(start, "", fmt.Sprintf("the file has %d bytes", len(src)), fmt.Sprintf("a map has at most %d", maxMapFile))
	}
	// The YAML library is not under our control, and a user's file must never end the program.
	defer func() {
		if trouble := recover(); trouble != nil {
			mapping, err = nil, f.fail(start, "", fmt.Sprintf("this is not YAML (%v)", trouble), "write key: value lines")
		}
	}()
	file, err := parser.ParseBytes(src, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		return nil, f.syntaxError(err)
	}
	var bodies []ast.Node
	for _, doc := range file.Docs {
		if doc.Body != nil {
			bodies = append(bodies, doc.Body)
		}
	}
	if len(bodies) == 0 {
		return nil, f.fail(start, "", "the file is empty", "a map has the keys map and signals")
	}
	if len(bodies) > 1 {
		at := placeOf(bodies[1].GetToken())
		if second, ok := mappingOf(bodies[1]); ok && len(second) > 0 {
			_, at = keyOf(second[0])
		}
		return nil, f.fail(at, "", "a second YAML document", "one file holds one map")
	}
	mapping, ok := mappingOf(bodies[0])
	if !ok {
		return nil, f.fail(placeOf(bodies[0].GetToken()), "", "the file is no list of keys", "a map has the keys map and signals")
	}
	return mapping, nil
}

func (f *mapFile) syntaxError(err error) *MapError {
	at, message := place{1, 1}, err.Error()
	var syntax yaml.Error
	if errors.As(err, &syntax) {
		message = syntax.GetMessage()
		if t := syntax.GetToken(); t != nil && t.Position != nil {
			at = placeOf(t)
		}
	}
	message, _, _ = strings.Cut(message, "\n")
	return f.fail(at, "", "this is not YAML: "+message,
		"a line that holds a colon and a space inside its value goes into quotes")
}

func placeOf(t *token.Token) place {
	if t == nil || t.Position == nil {
		return place{1, 1}
	}
	return place{max(1, t.Position.Line), max(1, t.Position.Column)}
}

func keyOf(kv *ast.MappingValueNode) (string, place) {
	if kv.Key == nil || kv.Key.GetToken() == nil {
		return "", place{1, 1}
	}
	t := kv.Key.GetToken()
	return t.Value, placeOf(t)
}

func mappingOf(n ast.Node) ([]*ast.MappingValueNode, bool) {
	switch n := n.(type) {
	case *ast.MappingNode:
		return n.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}, true
	}
	return nil, false
}

// scalar returns the text of a one-line value, and where it starts.
func (f *mapFile) scalar(path string, n ast.Node) (string, place, error) {
	if n == nil || n.GetToken() == nil {
		return "", place{1, 1}, f.fail(place{1, 1}, path, "there is no value", "write the value on one line behind the key")
	}
	t := n.GetToken()
	at := placeOf(t)
	if _, isText := n.(*ast.StringNode); isText {
		if t.Type == token.SingleQuoteType || t.Type == token.DoubleQuoteType {
			at = at.plus(1)
		}
		return t.Value, at, nil
	}
	switch n.(type) {
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return t.Value, at, nil
	}
	return "", at, f.fail(at, path, "there is no plain text here", "write the value on one line behind the key")
}

var mapKeys = []string{"format", "map", "words", "bytes", "addresses", "gaps", "signals"}

func (f *mapFile) read(root []*ast.MappingValueNode) error {
	seen := map[string]place{}
	var list ast.Node
	var listAt place
	for _, kv := range root {
		key, at := keyOf(kv)
		if first, twice := seen[key]; twice {
			return f.fail(at, key, "the key stands here again", fmt.Sprintf("it stands on line %d already", first.line))
		}
		seen[key] = at
		if key == "signals" {
			list, listAt = kv.Value, at
			continue
		}
		if !slices.Contains(mapKeys, key) {
			err := f.fail(at, "", fmt.Sprintf("unknown key %q", key), "a map has the keys "+alternatives(mapKeys))
			err.Nearest = nearest(key, mapKeys)
			return err
		}
		text, valueAt, err := f.scalar(key, kv.Value)
		if err != nil {
			return err
		}
		if err := f.setting(key, text, valueAt); err != nil {
			return err
		}
	}
	if f.m.Name == "" {
		return f.fail(place{1, 1}, "", "the map has no name", "begin with a line such as map: my inverter")
	}
	if list == nil {
		return f.fail(place{1, 1}, "", "the map has no signals", "list them under the key signals")
	}
	lines, ok := mappingOf(list)
	if !ok || len(lines) == 0 {
		return f.fail(listAt, "signals", "no signals are listed", "write one line a signal, such as soc: input 0 uint16 x 1 %")
	}
	return f.signals(lines)
}

// setting takes one of the keys that hold for the whole file.
func (f *mapFile) setting(key, text string, at place) error {
	pick := func(choices ...string) (int, error) {
		if i := slices.Index(choices, text); i >= 0 {
			return i, nil
		}
		err := f.fail(at, key, fmt.Sprintf("%q", text), "write "+alternatives(choices))
		err.Nearest = nearest(text, choices)
		return 0, err
	}
	var choice int
	var err error
	switch key {
	case "format":
		_, err = pick("1")
	case "map":
		if f.m.Name = strings.TrimSpace(text); f.m.Name == "" {
			err = f.fail(at, key, "the name is empty", "write a name for the map")
		}
	case "words":
		choice, err = pick("high word first", "low word first")
		f.m.Order.LowWordFirst = choice == 1
	case "bytes":
		choice, err = pick("high byte first", "low byte first")
		f.m.Order.LowByteFirst = choice == 1
	case "addresses":
		choice, err = pick("from 0", "from 1", "4xxxx numbers")
		f.addresses = addressStyle(choice)
	case "gaps":
		choice, err = pick("refuse", "read as 0")
		f.m.GapsReadZero = choice == 1
	}
	return err
}

// signals reads the lines under the key signals; settings may follow them in the file, so it comes last.
func (f *mapFile) signals(lines []*ast.MappingValueNode) error {
	seen := map[string]place{}
	for _, kv := range lines {
		key, at := keyOf(kv)
		path := "signals." + key
		if first, twice := seen[key]; twice {
			return f.fail(at, path, "the signal stands here again",
				fmt.Sprintf("it stands on line %d already; a second register of it needs a label, as in %s/second", first.line, key))
		}
		seen[key] = at
		text, valueAt, err := f.scalar(path, kv.Value)
		if err != nil {
			return err
		}
		line := &signalLine{file: f, path: path, text: text, at: valueAt}
		line.entry.place = at
		if err := line.key(key, at); err != nil {
			return err
		}
		if err := line.parse(); err != nil {
			return err
		}
		f.entries = append(f.entries, line.entry)
	}
	return nil
}

// checkOverlaps sorts the points and refuses two of them on one register.
func (f *mapFile) checkOverlaps() error {
	slices.SortStableFunc(f.entries, func(a, b entry) int {
		return cmp.Or(cmp.Compare(a.point.Table, b.point.Table), cmp.Compare(a.point.Address, b.point.Address))
	})
	for i := 1; i < len(f.entries); i++ {
		a, b := &f.entries[i-1], &f.entries[i]
		last := int(a.point.Address) + int(a.point.Registers) - 1
		if a.point.Table != b.point.Table || last < int(b.point.Address) {
			continue
		}
		if b.place.line < a.place.line {
			a, b = b, a
		}
		return f.fail(b.place, "signals."+b.point.Name,
			fmt.Sprintf("%s overlaps %s on line %d, which has %s", b.point.where(), a.point.Name, a.place.line, a.point.where()),
			"two signals cannot share a register")
	}
	return nil
}

// where names the point's registers as they are counted on the wire.
func (p *Point) where() string {
	if p.Registers == 1 {
		return fmt.Sprintf("%s %d", p.Table, p.Address)
	}
	return fmt.Sprintf("%s %d to %d", p.Table, p.Address, int(p.Address)+int(p.Registers)-1)
}

// checkCommands refuses two writable points of one signal, unless they are its two directions.
func (f *mapFile) checkCommands() error {
	first := map[Signal][]*entry{}
	for i := range f.entries {
		e := &f.entries[i]
		if !e.point.Writable {
			continue
		}
		for _, other := range first[e.point.Signal] {
			a, b := &other.point, &e.point
			if a.OneWay && b.OneWay && a.Sign != b.Sign {
				continue
			}
			late, early := e, other
			if late.place.line < early.place.line {
				late, early = early, late
			}
			return f.fail(late.place, "signals."+late.point.Name,
				fmt.Sprintf("%s can be written on line %d already", early.point.Name, early.place.line),
				"a signal is commanded by one register, or by one for each direction")
		}
		first[e.point.Signal] = append(first[e.point.Signal], e)
	}
	return nil
}

// resolveNeeds turns conditions such as "enable = on" into registers and raw values.
func (f *mapFile) resolveNeeds() error {
	names := make([]string, len(f.entries))
	for i := range f.entries {
		names[i] = f.entries[i].point.Name
	}
	for i := range f.entries {
		e := &f.entries[i]
		if e.need == "" {
			continue
		}
		path := "signals." + e.point.Name
		name, wanted, ok := strings.Cut(e.need, "=")
		name, wanted = strings.TrimSpace(name), strings.TrimSpace(wanted)
		if !ok || name == "" || wanted == "" {
			return f.fail(e.needPlace, path, fmt.Sprintf("needs %s", e.need), "write needs SIGNAL = VALUE")
		}
		j := slices.Index(names, name)
		if j < 0 {
			err := f.fail(e.needPlace, path, fmt.Sprintf("the map has no signal %q", name), "needs names a signal of this map")
			err.Nearest = nearest(name, names)
			return err
		}
		enable := &f.entries[j]
		if !enable.point.canEnable() || enable.need != "" || j == i {
			return f.fail(e.needPlace, path, fmt.Sprintf("%s on line %d cannot be a condition", name, enable.place.line),
				"needs names another writable signal that is a state in an integer or a bit, and needs nothing itself")
		}
		raw, ok := enable.point.rawOf(wanted)
		if !ok {
			return f.fail(e.needPlace, path, fmt.Sprintf("%s cannot hold %q", name, wanted), "needs "+enable.point.hint())
		}
		e.point.Needs = &Need{Point: name, Mask: ^uint64(0), Raw: raw}
	}
	return nil
}

// canEnable tells whether other points may need a state of this one.
func (p *Point) canEnable() bool {
	return p.Writable && signals[p.Signal].dimension == pure && !p.Type.isFloat()
}

// rawOf is the raw form of a value that a user wrote: a word of the point's, or the number in its register.
func (p *Point) rawOf(text string) (uint64, bool) {
	for _, w := range p.Words {
		if w.Word == text {
			return w.Raw, true
		}
	}
	raw, ok := parseWhole(text)
	if !ok || !p.Type.holds(raw) {
		return 0, false
	}
	f := field{point: p}
	f.prepare()
	return raw, f.accepts(raw)
}

// hint says what a condition on the point can be.
func (p *Point) hint() string {
	var words []string
	for _, w := range p.Words {
		words = append(words, w.Word)
	}
	if len(words) > 0 {
		return p.Name + " = " + alternatives(words)
	}
	return p.Name + " = a number that its register can hold"
}
