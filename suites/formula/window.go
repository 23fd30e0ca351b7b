package formula

import "time"

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
			err = wrong(at.column, w.to.String(), "at least the window's beginning of "+w.from.String())
		}
	}
	return w, err
}

func (p *parser) time() (time.Duration, error) {
	t := p.next()
	if t.kind != number {
		return 0, wrong(t.column, t.shown(), "a time, such as 30 s")
	}
	q, err := p.quantity(t)
	if err != nil {
		return 0, err
	}
	seconds := float64(q.sum.(constant))
	switch {
	case q.unit != Second:
		return 0, wrong(t.column, t.text+" of "+q.unit.named(), "a time with its unit: ms, s, min or h")
	case seconds > longestWindow.Seconds():
		return 0, wrong(t.column, t.text+" "+string(q.unit), "at most "+longestWindow.String())
	}
	return time.Duration(seconds*1e9 + 0.5), nil
}
