package formula

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Signal is one of the quantities that a formula may speak of.
type Signal struct {
	Name string
	Unit Unit
}

// Formula is a sentence that has been read and understood.
type Formula struct {
	root  logic
	unit  Unit
	reads []int
}

// Parse reads a formula about the signals. Its error, an *Error, says where what was found and what would be right.
func Parse(src string, signals []Signal) (*Formula, error) {
	var hyphened []string
	for _, s := range signals {
		if strings.Contains(s.Name, "-") {
			hyphened = append(hyphened, s.Name)
		}
	}
	tokens, err := scan(src, hyphened)
	if err != nil {
		return nil, err
	}
	p := &parser{rest: tokens, signals: signals, reads: map[int]bool{}}
	x, err := p.expression(0)
	if err != nil {
		return nil, err
	}
	if t := p.peek(); t.kind != end {
		return nil, unknown(t, "the end, or an operator such as and, or, until", []string{"and", "or", "implies", "until", "per"})
	}
	if x.truth == nil {
		return nil, wrong(x.column, "a quantity", "a comparison, such as grid < 18 kW")
	}
	if err := bounded(x.truth, whole); err != nil {
		return nil, err
	}
	return &Formula{root: x.truth, unit: x.unit, reads: slices.Sorted(maps.Keys(p.reads))}, nil
}

// Unit is the unit of the margin.
func (f *Formula) Unit() Unit { return f.unit }

// Reads are the signals that the formula speaks of, by their places among those that Parse was given, in that order.
func (f *Formula) Reads() []int { return f.reads }

// expression is a part of a formula: a quantity or a truth.
type expression struct {
	column int
	unit   Unit
	sum    arithmetic // nil for a truth
	truth  logic      // nil for a quantity
}

type parser struct {
	rest    []token
	signals []Signal
	reads   map[int]bool
	depth   int
}

func (p *parser) peek() token { return p.rest[0] }

func (p *parser) next() token {
	t := p.rest[0]
	if t.kind != end {
		p.rest = p.rest[1:]
	}
	return t
}

// takes consumes a token if it is the one named.
func (p *parser) takes(text string) bool {
	t := p.peek()
	if t.kind == end || t.kind == number || t.text != text {
		return false
	}
	p.next()
	return true
}

// How tightly operators between two parts bind. A prefix operator takes what binds at least as a comparison does.
var binding = map[string]int{
	"implies": 1, "or": 2, "and": 3, "until": 4,
	"<": 5, "<=": 5, ">": 5, ">=": 5,
	"+": 6, "-": 6, "*": 7, "/": 7,
}

const comparing = 5

// expression reads a part whose operators bind more tightly than the given strength.
func (p *parser) expression(above int) (expression, error) {
	if p.depth++; p.depth > deepest {
		return expression{}, wrong(p.peek().column, fmt.Sprintf("more than %d levels", deepest), "fewer brackets")
	}
	defer func() { p.depth-- }()
	left, err := p.operand()
	if err != nil {
		return left, err
	}
	for {
		t := p.peek()
		strength := binding[t.text]
		if t.kind == end || t.kind == number || strength == 0 || strength <= above {
			return left, nil
		}
		p.next()
		if left, err = p.combine(left, t, strength); err != nil {
			return left, err
		}
	}
}

// operand reads what stands before an operator.
func (p *parser) operand() (expression, error) {
	t := p.next()
	switch {
	case t.kind == number:
		return p.quantity(t)
	case t.text == "(" && t.kind == sign:
		x, err := p.expression(0)
		if err != nil {
			return x, err
		}
		return x, p.expect(")")
	case t.text == "-" && t.kind == sign:
		x, err := p.expression(binding["*"])
		if err != nil {
			return x, err
		}
		return x, p.negate(&x, t)
	case t.kind == word:
		return p.word(t)
	}
	return expression{}, wrong(t.column, t.shown(), "a signal, a quantity, a bracket, or one of not, always, eventually")
}

func (p *parser) negate(x *expression, t token) error {
	if x.sum == nil {
		return wrong(t.column, "- of a comparison", "not, or - of a quantity")
	}
	x.sum, x.column = scaled{x.sum, -1}, t.column
	return nil
}

func (p *parser) expect(text string) error {
	if !p.takes(text) {
		return wrong(p.peek().column, p.peek().shown(), fmt.Sprintf("%q", text))
	}
	return nil
}

// quantity reads the unit behind a number.
func (p *parser) quantity(t token) (expression, error) {
	x := expression{column: t.column, sum: constant(t.value)}
	next := p.peek()
	if next.kind == number || next.kind == end {
		return x, nil
	}
	if m, is := multiples[next.text]; is {
		p.next()
		x.unit, x.sum = m.unit, constant(t.value*m.times)
		return x, nil
	}
	for _, unit := range slices.Sorted(maps.Keys(multiples)) {
		if strings.EqualFold(unit, next.text) {
			return x, wrong(next.column, next.shown(), "the unit "+unit)
		}
	}
	return x, nil
}

// word reads what begins with a word: an operator or a signal.
func (p *parser) word(t token) (expression, error) {
	switch t.text {
	case "not":
		x, err := p.truth(comparing - 1)
		if err != nil {
			return x, err
		}
		x.truth, x.column = opposite{x.truth}, t.column
		return x, nil
	case "always", "eventually":
		w, err := p.window(t)
		if err != nil {
			return expression{}, err
		}
		x, err := p.truth(comparing - 1)
		if err != nil {
			return x, err
		}
		x.truth, x.column = temporal{w, t.text == "always", x.truth}, t.column
		return x, nil
	case "abs":
		if err := p.expect("("); err != nil {
			return expression{}, err
		}
		x, err := p.expression(0)
		if err != nil {
			return x, err
		}
		if x.sum == nil {
			return x, wrong(x.column, "a comparison", "a quantity in abs")
		}
		x.sum, x.column = magnitude{x.sum}, t.column
		return x, p.expect(")")
	}
	for i, s := range p.signals {
		if s.Name == t.text {
			p.reads[i] = true
			return expression{column: t.column, unit: s.Unit, sum: reading(i)}, nil
		}
	}
	return expression{}, unknown(t, "one of "+strings.Join(p.names(), ", "), append(p.names(), "always", "eventually", "not", "abs"))
}

func (p *parser) names() []string {
	var list []string
	for _, s := range p.signals {
		list = append(list, s.Name)
	}
	slices.Sort(list)
	return list
}

// truth reads an expression that must be one of logic.
func (p *parser) truth(above int) (expression, error) {
	x, err := p.expression(above)
	if err == nil && x.truth == nil {
		err = wrong(x.column, "a quantity", "a comparison, such as grid < 18 kW")
	}
	return x, err
}
