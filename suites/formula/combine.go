package formula

import "strings"

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
		return x, wrong(t.column, t.shown(), "a quantity above 0 after per, such as 1 kW")
	}
	q, err := p.quantity(t)
	if err != nil {
		return x, err
	}
	if q.unit != x.unit {
		return x, wrong(t.column, "a quantity in "+q.unit.named(), "one in "+x.unit.named()+", as in the comparison")
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
			return left, wrong(x.column, "a comparison beside "+t.text, "a quantity")
		}
	}
	switch t.text {
	case "+", "-":
		if left.unit != right.unit {
			return left, wrong(right.column, right.unit.named()+" beside "+left.unit.named(), "quantities of one unit")
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
		return left, wrong(right.column, "what is no plain number", "a number other than 0 to multiply or divide by")
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
			return left, wrong(x.column, "a comparison beside "+t.text, "a quantity; join comparisons with and")
		}
	}
	if left.unit != right.unit {
		return left, wrong(right.column, right.unit.named()+" beside "+left.unit.named(), "quantities of one unit")
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
			return left, wrong(x.column, "a quantity beside "+t.text, "a comparison, such as grid < 18 kW")
		}
	}
	if left.unit != right.unit {
		return left, wrong(right.column, "margins in "+right.unit.named()+" beside margins in "+left.unit.named(),
			"one unit; divide each comparison's margin, as in grid < 18 kW per 1 kW")
	}
	switch t.text {
	case "and":
		left.truth = both{left.truth, right.truth}
	case "or":
		left.truth = opposite{both{opposite{left.truth}, opposite{right.truth}}}
	case "implies":
		left.truth = implication{left.truth, right.truth}
	default:
		left.truth = until{w, left.truth, right.truth}
	}
	return left, nil
}
