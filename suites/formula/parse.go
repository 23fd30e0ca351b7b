package formula

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Signal is one of the quantities that a formula may speak of.
type Signal struct {
	Name string
	Unit Unit
}

// Formula is a sentence that has been read and understood.
type Formula struct {
	root    logic
	unit    Unit
	signals int
}

// Parse reads a formula about the signals. Its error, an *Error, says where what was found and what would be right.
func Parse(src string, signals []Signal) (*Formula, error) {
	tokens, err := scan(src)
	if err != nil {
		return nil, err
	}
	p := &parser{rest: tokens, signals: signals}
	x, err := p.expression(0)
	if err != nil {
		return nil, err
	}
	if t := p.peek(); t.kind != end {
		return nil, &Error{t.column, t.shown(), "the end, or an operator such as and, or, until"}
	}
	if x.truth == nil {
		return nil, &Error{x.column, "a quantity", "a comparison, such as grid < 18 kW"}
	}
	if err := bounded(x.truth, whole); err != nil {
		return nil, err
	}
	return &Formula{root: x.truth, unit: x.unit, signals: len(signals)}, nil
}

// Unit is the unit of the margin.
func (f *Formula) Unit() Unit { return f.unit }

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
		return expression{}, &Error{p.peek().column, fmt.Sprintf("more than %d levels", deepest), "fewer brackets"}
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
	return expression{}, &Error{t.column, t.shown(), "a signal, a quantity, a bracket, or one of not, always, eventually"}
}

func (p *parser) negate(x *expression, t token) error {
	if x.sum == nil {
		return &Error{t.column, "- of a comparison", "not, or - of a quantity"}
	}
	x.sum, x.column = scaled{x.sum, -1}, t.column
	return nil
}

func (p *parser) expect(text string) error {
	if !p.takes(text) {
		return &Error{p.peek().column, p.peek().shown(), fmt.Sprintf("%q", text)}
	}
	return nil
}

// quantity reads the unit behind a number.
func (p *parser) quantity(t token) (expression, error) {
	x := expression{column: t.column, sum: constant(t.value)}
	if m, is := multiples[p.peek().text]; is && p.peek().kind != number {
		p.next()
		x.unit, x.sum = m.unit, constant(t.value*m.times)
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
			return x, &Error{x.column, "a comparison", "a quantity in abs"}
		}
		x.sum, x.column = magnitude{x.sum}, t.column
		return x, p.expect(")")
	}
	for i, s := range p.signals {
		if s.Name == t.text {
			return expression{column: t.column, unit: s.Unit, sum: reading(i)}, nil
		}
	}
	return expression{}, &Error{t.column, t.shown(), "one of " + strings.Join(p.names(), ", ")}
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
		err = &Error{x.column, "a quantity", "a comparison, such as grid < 18 kW"}
	}
	return x, err
}

// combine reads the right side of an operator.
func (p *parser) combine(left expression, t token, strength int) (expression, error) {
	var w window
	if t.text == "until" {
		var err error
		if w, err = p.window(t); err != nil {
			return left, err
		}
	}
	above := strength
	if t.text == "implies" { // a implies b implies c is a implies (b implies c)
		above--
	}
	right, err := p.expression(above)
	if err != nil {
		return left, err
	}
	switch t.text {
	case "+", "-", "*", "/":
		return calculate(left, t, right)
	case "<", "<=", ">", ">=":
		x, err := compare(left, t, right)
		if err == nil && p.takes("per") {
			return p.per(x)
		}
		return x, err
	}
	return join(left, t, w, right)
}

// per reads the quantity by which a comparison's margin is divided.
func (p *parser) per(x expression) (expression, error) {
	t := p.next()
	if t.kind != number || t.value <= 0 {
		return x, &Error{t.column, t.shown(), "a quantity above 0 after per, such as 1 kW"}
	}
	q, err := p.quantity(t)
	if err != nil {
		return x, err
	}
	if q.unit != x.unit {
		return x, &Error{t.column, "a quantity in " + q.unit.named(), "one in " + x.unit.named() + ", as in the comparison"}
	}
	c := x.truth.(comparison)
	c.perScale = 1 / float64(q.sum.(constant))
	x.truth, x.unit = c, Number
	return x, nil
}

// calculate makes a quantity of two.
func calculate(left expression, t token, right expression) (expression, error) {
	for _, x := range []expression{left, right} {
		if x.sum == nil {
			return left, &Error{x.column, "a comparison beside " + t.text, "a quantity"}
		}
	}
	switch t.text {
	case "+", "-":
		if left.unit != right.unit {
			return left, &Error{right.column, right.unit.named() + " beside " + left.unit.named(), "quantities of one unit"}
		}
		times := 1.0
		if t.text == "-" {
			times = -1
		}
		left.sum = total{left.sum, scaled{right.sum, times}}
		return left, nil
	}
	factor, is := right.sum.(constant)
	if t.text == "*" && !is {
		if factor, is = left.sum.(constant); is {
			left, right = right, left
		}
	}
	if !is || right.unit != Number || t.text == "/" && factor == 0 {
		return left, &Error{right.column, "what is no plain number", "a number other than 0 to multiply or divide by"}
	}
	times := float64(factor)
	if t.text == "/" {
		times = 1 / times
	}
	left.sum = scaled{left.sum, times}
	return left, nil
}

// compare makes a comparison of two quantities.
func compare(left expression, t token, right expression) (expression, error) {
	for _, x := range []expression{left, right} {
		if x.sum == nil {
			return left, &Error{x.column, "a comparison beside " + t.text, "a quantity; join comparisons with and"}
		}
	}
	if left.unit != right.unit {
		return left, &Error{right.column, right.unit.named() + " beside " + left.unit.named(), "quantities of one unit"}
	}
	greater, less := left.sum, right.sum
	if strings.HasPrefix(t.text, "<") {
		greater, less = less, greater
	}
	return expression{column: left.column, unit: left.unit, truth: comparison{total{greater, scaled{less, -1}}, 1}}, nil
}

// join makes one truth of two.
func join(left expression, t token, w window, right expression) (expression, error) {
	for _, x := range []expression{left, right} {
		if x.truth == nil {
			return left, &Error{x.column, "a quantity beside " + t.text, "a comparison, such as grid < 18 kW"}
		}
	}
	if left.unit != right.unit {
		return left, &Error{right.column, "margins in " + right.unit.named() + " beside margins in " + left.unit.named(),
			"one unit; divide each comparison's margin, as in grid < 18 kW per 1 kW"}
	}
	switch t.text {
	case "and":
		left.truth = both{left.truth, right.truth}
	case "or":
		left.truth = opposite{both{opposite{left.truth}, opposite{right.truth}}}
	case "implies":
		left.truth = opposite{both{left.truth, opposite{right.truth}}}
	default:
		left.truth = until{w, left.truth, right.truth}
	}
	return left, nil
}

// window reads the times over which an operator looks.
func (p *parser) window(t token) (w window, err error) {
	w.column, w.open = t.column, true
	switch {
	case p.takes("within"), p.takes("for"):
		w.open = false
		w.to, err = p.time()
	case p.takes("from"):
		w.from, err = p.time()
	case p.takes("in"):
		w.open = false
		if w.from, err = p.time(); err != nil {
			return w, err
		}
		if err = p.expect(".."); err != nil {
			return w, err
		}
		at := p.peek()
		if w.to, err = p.time(); err == nil && w.to < w.from {
			err = &Error{at.column, w.to.String(), "at least the window's beginning of " + w.from.String()}
		}
	}
	return w, err
}

// longestWindow bounds what a monitor keeps in memory.
const longestWindow = 24 * time.Hour

func (p *parser) time() (time.Duration, error) {
	t := p.next()
	if t.kind != number {
		return 0, &Error{t.column, t.shown(), "a time, such as 30 s"}
	}
	q, err := p.quantity(t)
	if err != nil {
		return 0, err
	}
	seconds := float64(q.sum.(constant))
	switch {
	case q.unit != Second:
		return 0, &Error{t.column, t.text + " of " + q.unit.named(), "a time with its unit: ms, s, min or h"}
	case seconds > longestWindow.Seconds():
		return 0, &Error{t.column, t.text + " " + string(q.unit), "at most " + longestWindow.String()}
	}
	return time.Duration(seconds*1e9 + 0.5), nil
}
