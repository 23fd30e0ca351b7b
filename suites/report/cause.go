package report

import (
	"cmp"
	"strings"
	"time"

	"kilter/suites/verdict"
)

// cause is how a failure came about, as the page tells it.
type cause struct {
	When, Found string
	Reads       []causeRead
	Commands    []causeCommand
	Truth       []fact
}

// causeRead is a value that the controller had read before the failure.
type causeRead struct{ What, At, Told, True string }

// causeCommand is a command that had taken effect.
type causeCommand struct{ At, What, Value string }

// commandsShown is how many of the last commands a page shows; verdict.json has them all.
const commandsShown = 12

func newCause(c *verdict.Cause, start time.Time) *cause {
	if c == nil {
		return nil
	}
	at := func(n verdict.Number) string {
		s, known := n.Value()
		if !known {
			return "–"
		}
		return when(start, s)
	}
	x := &cause{When: at(c.AtS), Found: at(c.FoundS)}
	broken, _ := c.AtS.Value()
	for _, r := range c.Reads {
		if s, known := r.AtS.Value(); known && s > broken {
			continue // what it learnt too late
		}
		x.Reads = append(x.Reads, causeRead{plain(r.Device) + " " + plain(r.Signal), at(r.AtS), told(r.Told, r.Unit), told(r.True, r.Unit)})
	}
	for _, g := range c.Commands[max(0, len(c.Commands)-commandsShown):] {
		value := cmp.Or(plain(g.Word), told(g.Value, g.Unit))
		if g.Lapsed {
			value += ", since an earlier command's time was over"
		}
		x.Commands = append(x.Commands, causeCommand{at(g.AtS), plain(g.Device) + " " + plain(g.Signal), value})
	}
	for _, t := range c.Truth {
		x.Truth = append(x.Truth, fact{Name: quantityOf(t.Name), Value: told(t.Value, t.Unit)})
	}
	return x
}

// quantityOf calls a column of the trace by what it holds: its unit stands beside the figure.
func quantityOf(column string) string {
	if device, is := strings.CutSuffix(column, "_soc"); is {
		return plain(device) + " state of charge"
	}
	return plain(strings.TrimSuffix(column, "_w"))
}

func told(n verdict.Number, unit string) string {
	if !n.Known() {
		return "–"
	}
	return Minus(verdict.Quantity(n, unit))
}
