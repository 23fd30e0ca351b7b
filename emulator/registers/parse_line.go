package registers

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// signalLine reads one line of the grammar
//
//	TABLE ADDRESS TYPE [x SCALE UNIT] [, clause]*
type signalLine struct {
	file *mapFile
	path string
	text string
	// at is where the text begins.
	at    place
	entry entry
	// factor leads from the unit on the line to the inside unit.
	factor float64
	// clauses that were there, each only once.
	clauses map[string]bool
}

// piece is a part of the line, and where it begins in the text.
type piece struct {
	text   string
	offset int
}

func (l *signalLine) fail(offset int, found, want string) *MapError {
	return l.file.fail(l.at.plus(offset), l.path, found, want)
}

func (l *signalLine) failNear(offset int, word, found, want string, known []string) *MapError {
	err := l.fail(offset, found, want)
	err.Nearest = nearest(word, known)
	return err
}

// directions are the labels, and the first words of sign clauses, that say which way a register counts.
var directions = []struct {
	label, positive string
	sign            float64
}{
	{"charging", "charge", 1}, {"discharging", "discharge", -1},
	{"importing", "import", 1}, {"exporting", "export", -1},
	{"consuming", "consuming", 1}, {"producing", "producing", -1},
}

// key reads the signal's name: SIGNAL, or SIGNAL/LABEL for a further register of the same signal. A label that
// is a direction makes the register show that direction only.
func (l *signalLine) key(key string, at place) error {
	p := &l.entry.point
	*p = Point{Name: key, Scale: 1, Sign: 1}
	name, label, labelled := strings.Cut(key, "/")
	if labelled && (label == "" || strings.Trim(label, "abcdefghijklmnopqrstuvwxyz0123456789_") != "") {
		return l.file.fail(at, l.path, fmt.Sprintf("label %q", label), "a label has small letters, digits and underscores")
	}
	if i := slices.Index(textNames[:], name); i > 0 {
		p.Text, p.Signal = TextField(i), NoSignal
		return nil
	}
	s, err := ParseSignal(name)
	if err != nil {
		known := append(SignalNames(), textNames[1:]...)
		fault := l.file.fail(at, l.path, fmt.Sprintf("unknown signal %q", name), "a line begins with the name of a signal, such as ac_power, soc or charge_limit")
		fault.Nearest = nearest(name, known)
		return fault
	}
	p.Signal = s
	p.Counter = signals[s].counter
	for _, d := range directions {
		if d.label != label {
			continue
		}
		if !signals[s].directed {
			return l.file.fail(at, l.path, fmt.Sprintf("%s has no direction", name), "use a label that is no direction")
		}
		p.OneWay, p.Sign = true, d.sign
	}
	return nil
}

func (l *signalLine) parse() error {
	pieces := l.split()
	if err := l.head(pieces[0]); err != nil {
		return err
	}
	l.clauses = map[string]bool{}
	for _, c := range pieces[1:] {
		if err := l.clause(c); err != nil {
			return err
		}
	}
	return l.finish()
}

// split cuts the line at the commas that are not inside braces.
func (l *signalLine) split() []piece {
	var pieces []piece
	depth, start := 0, 0
	for i := range len(l.text) {
		switch l.text[i] {
		case '{':
			depth++
		case '}':
			depth--
		case ',':
			if depth == 0 {
				pieces = append(pieces, piece{l.text[start:i], start})
				start = i + 1
			}
		}
	}
	return append(pieces, piece{l.text[start:], start})
}

// words cuts a piece at its blanks.
func (c piece) words() []piece {
	var words []piece
	start := -1
	for i := range len(c.text) + 1 {
		blank := i == len(c.text) || c.text[i] == ' ' || c.text[i] == '\t' || c.text[i] == '\n' || c.text[i] == '\r'
		switch {
		case !blank && start < 0:
			start = i
		case blank && start >= 0:
			words = append(words, piece{c.text[start:i], c.offset + start})
			start = -1
		}
	}
	return words
}

const lineForm = "write TABLE ADDRESS TYPE x SCALE UNIT, such as input 0x0BB8 int32 x 0.1 W"

// head reads the part before the first comma.
func (l *signalLine) head(c piece) error {
	words := c.words()
	if len(words) < 2 {
		return l.fail(c.offset, fmt.Sprintf("%q is no place in a table", strings.TrimSpace(c.text)), lineForm)
	}
	p := &l.entry.point
	t := slices.Index(tableNames[:], words[0].text)
	if t < 0 {
		return l.failNear(words[0].offset, words[0].text, fmt.Sprintf("%q is no table", words[0].text),
			"write "+alternatives(tableNames[:]), tableNames[:])
	}
	p.Table = Table(t)
	rest := words[2:]
	if p.Table.isBits() && (len(rest) == 0 || rest[0].text == "bit") {
		p.Type = Bit
		rest = rest[min(1, len(rest)):]
	} else {
		if len(rest) == 0 {
			return l.fail(len(l.text), "the type is missing", "write "+alternatives(typeForms))
		}
		if err := l.typeWord(rest[0]); err != nil {
			return err
		}
		rest = rest[1:]
	}
	if err := l.address(words[1]); err != nil {
		return err
	}
	return l.scale(rest, c)
}

var typeForms = append(append([]string{}, typeNames[:Bit]...), "string(N)")

func (l *signalLine) typeWord(w piece) error {
	p := &l.entry.point
	if p.Table.isBits() {
		return l.fail(w.offset, fmt.Sprintf("type %q in table %s", w.text, p.Table), "coils and discrete inputs hold a bit")
	}
	if inner, isText := strings.CutPrefix(w.text, "string("); isText {
		n, err := strconv.Atoi(strings.TrimSuffix(inner, ")"))
		if err != nil || !strings.HasSuffix(inner, ")") || n < 1 || n > 250 {
			return l.fail(w.offset, fmt.Sprintf("type %q", w.text), "string(N) has a count of characters from 1 to 250")
		}
		p.Type, p.Registers = Text, uint16(n+1)/2
	} else if i := slices.Index(typeNames[:Bit], w.text); i >= 0 {
		p.Type = Type(i)
	} else {
		return l.failNear(w.offset, w.text, fmt.Sprintf("%q is no type", w.text), "write "+alternatives(typeForms), typeForms)
	}
	if (p.Type == Text) != (p.Text != NoText) {
		return l.fail(w.offset, fmt.Sprintf("type %q", w.text),
			"string(N) is for "+alternatives(textNames[1:])+"; all other signals are numbers")
	}
	return nil
}

// address reads the address in the file's own way of counting, and checks that the whole point fits.
func (l *signalLine) address(w piece) error {
	p := &l.entry.point
	if p.Registers == 0 {
		p.Registers = p.Type.Registers()
	}
	n, ok := parseWhole(w.text)
	if !ok {
		return l.fail(w.offset, fmt.Sprintf("%q is no address", w.text), "write a whole number, decimal or hexadecimal such as 0x0BB8")
	}
	switch l.file.addresses {
	case fromOne:
		if n == 0 {
			return l.fail(w.offset, "address 0", "this file counts addresses from 1")
		}
		n--
	case tableNumbers:
		first := map[Table]byte{Holding: '4', Input: '3', Discrete: '1', Coil: '0'}[p.Table]
		rest, err := strconv.ParseUint(w.text[1:], 10, 64)
		if err != nil || len(w.text) < 5 || len(w.text) > 6 || w.text[0] != first || rest == 0 {
			return l.fail(w.offset, fmt.Sprintf("%q is no number of table %s", w.text, p.Table),
				fmt.Sprintf("with 4xxxx numbers the %s table counts from %c0001 or %c00001", p.Table, first, first))
		}
		n = rest - 1
	}
	if n+uint64(p.Registers) > 1<<16 || n > 1<<16 {
		return l.fail(w.offset, fmt.Sprintf("address %s with %d registers ends past 65535", w.text, p.Registers), "the last address is 65535")
	}
	p.Address = uint16(n)
	return nil
}

// scale reads "x SCALE UNIT", and insists on a unit where the signal has one.
func (l *signalLine) scale(rest []piece, c piece) error {
	p := &l.entry.point
	l.factor = 1
	if p.Text != NoText {
		if len(rest) > 0 {
			return l.fail(rest[0].offset, fmt.Sprintf("%q behind a text", rest[0].text), "a text has no scale")
		}
		return nil
	}
	d := signals[p.Signal].dimension
	if len(rest) == 0 {
		if d.takesNoUnit() {
			return nil
		}
		return l.fail(c.offset+len(strings.TrimRight(c.text, " ")), "the unit is missing",
			fmt.Sprintf("%s needs a scale and a unit, such as x 1 %s", p.Signal, p.Signal.Unit()))
	}
	if p.Type == Bit {
		return l.fail(rest[0].offset, fmt.Sprintf("%q behind a bit", rest[0].text), "a bit has no scale")
	}
	if rest[0].text != "x" {
		return l.fail(rest[0].offset, fmt.Sprintf("%q", rest[0].text), "behind the type comes x SCALE UNIT, or a comma and a clause")
	}
	if len(rest) < 2 {
		return l.fail(rest[0].offset+1, "the scale is missing", "write x SCALE UNIT, such as x 0.1 W")
	}
	scale, ok := parseNumber(rest[1].text)
	if !ok || scale < 1e-9 || scale > 1e9 {
		return l.fail(rest[1].offset, fmt.Sprintf("scale %q", rest[1].text),
			"write a number from 1e-9 to 1e9; which way is positive is said by a clause such as discharge positive")
	}
	if len(rest) > 3 {
		return l.fail(rest[3].offset, fmt.Sprintf("%q", rest[3].text), "clauses are set off by commas")
	}
	unit := piece{"none", rest[1].offset + len(rest[1].text)}
	if len(rest) == 3 {
		unit = rest[2]
	}
	if l.factor, ok = l.unit(unit, d); !ok {
		found := fmt.Sprintf("%s in %q", p.Signal, unit.text)
		if len(rest) < 3 {
			found = "the unit is missing"
		}
		want := "write no unit"
		if symbols := unitSymbols(d); symbols != "" {
			want = "write " + symbols
		}
		return l.fail(unit.offset, found, want)
	}
	p.Scale = scale * l.factor
	return nil
}

// unit finds a unit's factor; "none" is the unit of plain numbers, and of fractions from 0 to 1.
func (l *signalLine) unit(w piece, d dimension) (float64, bool) {
	if w.text == "none" {
		return 1, d.takesNoUnit()
	}
	return findUnit(w.text, d)
}

// finish fills in what follows from the whole line.
func (l *signalLine) finish() error {
	p := &l.entry.point
	if p.Type == Text {
		return nil
	}
	if p.Type == Bit && signals[p.Signal].dimension != pure {
		return l.fail(0, fmt.Sprintf("%s in a bit", p.Signal), "a bit holds a state such as enable, connect or cheap_slot")
	}
	if !p.Counter {
		p.Absent = p.Type.absent()
	}
	if l.clauses["range"] && !p.Writable {
		return l.fail(0, "a range on a register that cannot be written", "add the clause writable, or drop the range")
	}
	if !p.Writable && (p.Lasts != 0 || l.entry.need != "") {
		return l.fail(0, "lasts or needs on a register that cannot be written", "add the clause writable")
	}
	if states := stateWords(p.Signal); len(p.Words) == 0 && len(states) > 0 && !p.HasRange && !p.Type.isFloat() {
		for _, s := range states {
			if p.Type != Bit || s.value <= 1 {
				p.Words = append(p.Words, Word{Raw: uint64(s.value), Word: s.word, Value: s.value})
			}
		}
	}
	if len(p.Words) > 0 && p.Scale != 1 {
		return l.fail(0, fmt.Sprintf("%s with a scale", p.Signal), "states are counted, not scaled: write x 1 or nothing")
	}
	if p.HasRange {
		return l.checkRange()
	}
	return nil
}

// checkRange refuses a range whose ends the register cannot hold.
func (l *signalLine) checkRange() error {
	p := &l.entry.point
	f := field{point: p}
	f.prepare()
	for _, end := range []float64{p.Min, p.Max} {
		if back := f.value(f.encode(end)) * p.Sign; math.Abs(back-end) > p.Scale*(1+1e-9) {
			return l.fail(0, fmt.Sprintf("the range reaches %g %s, which a %s at this scale cannot hold", end, p.Signal.Unit(), p.Type),
				"choose a narrower range or a wider type")
		}
	}
	return nil
}
