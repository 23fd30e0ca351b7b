package registers

import (
	"fmt"
	"slices"
	"strings"
)

// clauseForms are the clauses, for messages.
var clauseForms = []string{"charge positive", "discharge positive", "import positive", "export positive",
	"consuming positive", "producing positive", "writable", "LO..HI", "lasts TIME", "needs SIGNAL = VALUE",
	"values {RAW = WORD}", "offset NUMBER"}

var clauseWords = []string{"charge", "discharge", "import", "export", "consuming", "producing", "writable", "lasts",
	"needs", "values", "offset"}

// clause reads one clause behind a comma.
func (l *signalLine) clause(c piece) error {
	words := c.words()
	if len(words) == 0 {
		return l.fail(c.offset, "nothing between or behind the commas", "drop the comma, or write a clause")
	}
	p := &l.entry.point
	if p.Text != NoText {
		return l.fail(words[0].offset, fmt.Sprintf("%q behind a text", words[0].text), "a text has no clauses")
	}
	first, rest := words[0], words[1:]
	name, read := first.text, l.noClause
	switch {
	case strings.Contains(c.text, "..") && len(words) <= 3 && !slices.Contains(clauseWords, first.text):
		name, read = "range", func([]piece) error { return l.rangeClause(words) }
	case strings.HasPrefix(name, "values"):
		name, read = "values", func([]piece) error { return l.valuesClause(c) }
	case len(rest) == 1 && rest[0].text == "positive":
		name, read = "positive", func([]piece) error { return l.signClause(first) }
	case name == "writable":
		read = l.writableClause
	case name == "lasts":
		read = l.lastsClause
	case name == "needs":
		read = l.needsClause
	case name == "offset":
		read = l.offsetClause
	}
	if l.clauses[name] {
		return l.fail(first.offset, fmt.Sprintf("a second clause %s", name), "each clause stands once")
	}
	l.clauses[name] = true
	return read(words)
}

func (l *signalLine) noClause(words []piece) error {
	return l.failNear(words[0].offset, words[0].text, fmt.Sprintf("%q is no clause", words[0].text),
		"a clause is "+alternatives(clauseForms), clauseWords)
}

func (l *signalLine) signClause(w piece) error {
	p := &l.entry.point
	for _, d := range directions {
		if d.positive != w.text {
			continue
		}
		if !signals[p.Signal].directed {
			return l.fail(w.offset, fmt.Sprintf("%s has no direction", p.Signal), "drop the clause")
		}
		if p.OneWay {
			return l.fail(w.offset, fmt.Sprintf("%s shows one direction already", p.Name), "drop the clause")
		}
		p.Sign = d.sign
		return nil
	}
	known := []string{"charge", "discharge", "import", "export", "consuming", "producing"}
	return l.failNear(w.offset, w.text, fmt.Sprintf("%q is no direction", w.text), "write "+alternatives(known)+" before positive", known)
}

func (l *signalLine) writableClause(words []piece) error {
	p := &l.entry.point
	if len(words) > 1 {
		return l.fail(words[1].offset, fmt.Sprintf("%q behind writable", words[1].text), "clauses are set off by commas")
	}
	if p.Table != Holding && p.Table != Coil {
		return l.fail(words[0].offset, fmt.Sprintf("writable in table %s", p.Table), "only holding registers and coils can be written")
	}
	if !p.Signal.IsCommand() {
		return l.fail(words[0].offset, fmt.Sprintf("%s cannot be commanded", p.Signal),
			"commands are "+alternatives(SignalNames()[Mode:]))
	}
	p.Writable = true
	return nil
}

// rangeClause reads LO..HI in the unit of the line.
func (l *signalLine) rangeClause(words []piece) error {
	p := &l.entry.point
	var joined strings.Builder
	for _, w := range words {
		joined.WriteString(w.text)
	}
	lowText, highText, _ := strings.Cut(joined.String(), "..")
	low, lowOK := parseNumber(lowText)
	high, highOK := parseNumber(highText)
	if !lowOK || !highOK {
		return l.fail(words[0].offset, fmt.Sprintf("range %q", joined.String()), "write LO..HI in the unit of the line, such as 0..3600")
	}
	if low > high {
		return l.fail(words[0].offset, fmt.Sprintf("the range falls from %g to %g", low, high), "write the lower end first")
	}
	if p.Type == Bit {
		return l.fail(words[0].offset, "a range on a bit", "drop the range")
	}
	p.HasRange, p.Min, p.Max = true, low*l.factor, high*l.factor
	return nil
}

// lastsClause reads a time and its unit.
func (l *signalLine) lastsClause(words []piece) error {
	if len(words) == 3 {
		x, ok := parseNumber(words[1].text)
		factor, known := findUnit(words[2].text, seconds)
		if ok && known && x > 0 {
			l.entry.point.Lasts = x * factor
			return nil
		}
	}
	return l.fail(words[0].offset, fmt.Sprintf("%q", joinWords(words)), "write a time with its unit, such as lasts 60 s; units are "+unitSymbols(seconds))
}

func (l *signalLine) needsClause(words []piece) error {
	l.entry.need = joinWords(words[1:])
	l.entry.needPlace = l.at.plus(words[0].offset)
	if l.entry.need == "" {
		return l.fail(words[0].offset, "needs, but what", "write needs SIGNAL = VALUE")
	}
	return nil
}

// offsetClause reads what is added after scaling, in the unit of the line.
func (l *signalLine) offsetClause(words []piece) error {
	p := &l.entry.point
	if len(words) == 2 {
		if x, ok := parseNumber(words[1].text); ok && p.Type != Bit {
			p.Offset = x * l.factor
			return nil
		}
	}
	return l.fail(words[0].offset, fmt.Sprintf("%q", joinWords(words)), "write offset and a number in the unit of the line, such as offset -40")
}

// valuesClause reads {RAW = WORD, ...}; a colon does for the equals sign where the line is quoted.
func (l *signalLine) valuesClause(c piece) error {
	p := &l.entry.point
	states := stateWords(p.Signal)
	if len(states) == 0 {
		return l.fail(c.offset+1, fmt.Sprintf("%s is a quantity", p.Signal), "values name the states of a signal such as mode")
	}
	known := make([]string, len(states))
	for i, s := range states {
		known[i] = s.word
	}
	form := "write values {0 = " + known[0] + ", 1 = " + known[1] + "}"
	open, end := strings.IndexByte(c.text, '{'), strings.LastIndexByte(c.text, '}')
	if open < 0 || end < open || strings.TrimSpace(c.text[:open]) != "values" || strings.TrimSpace(c.text[end+1:]) != "" || p.Type.isFloat() {
		return l.fail(c.offset+1, fmt.Sprintf("%q", strings.TrimSpace(c.text)), form+" on an integer or a bit")
	}
	offset := c.offset + open + 1
	for _, item := range strings.Split(c.text[open+1:end], ",") {
		rawText, word, ok := strings.Cut(item, "=")
		if !ok {
			rawText, word, _ = strings.Cut(item, ":")
		}
		rawText, word = strings.TrimSpace(rawText), strings.TrimSpace(word)
		raw, ok := parseWhole(rawText)
		if !ok || !p.Type.holds(raw) {
			return l.fail(offset, fmt.Sprintf("%q", strings.TrimSpace(item)), form+"; each raw value is a whole number that a "+p.Type.String()+" holds")
		}
		i := slices.Index(known, word)
		if i < 0 {
			return l.failNear(offset, word, fmt.Sprintf("%q is no word of %s", word, p.Signal), "write "+alternatives(known), known)
		}
		for _, w := range p.Words {
			if w.Raw == raw {
				return l.fail(offset, fmt.Sprintf("%d is %s already", raw, w.Word), "each raw value stands once")
			}
		}
		p.Words = append(p.Words, Word{Raw: raw, Word: word, Value: states[i].value})
		offset += len(item) + 1
	}
	return nil
}

// holds tells whether the type has the raw value.
func (t Type) holds(raw uint64) bool {
	if t == Bit {
		return raw <= 1
	}
	return t.bits() == 64 || raw>>t.bits() == 0
}

func joinWords(words []piece) string {
	texts := make([]string, len(words))
	for i, w := range words {
		texts[i] = w.text
	}
	return strings.Join(texts, " ")
}
