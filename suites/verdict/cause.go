package verdict

import (
	"cmp"
	"fmt"
	"strings"
)

// Cause is what is known of how a criterion came to fail: what the controller did until then, what it had been told, and
// what was true.
type Cause struct {
	// AtS is when the criterion was first broken, FoundS when the bench could know: a flow above its limit is broken from
	// the start of the time that it may last.
	AtS    Number `json:"at_s"`
	FoundS Number `json:"found_s"`
	// Commands are the last ones before AtS and the first ones from then until FoundS, in the order of time.
	Commands []CommandGiven `json:"commands"`
	// Reads are, of each value that the controller may steer by, what it had read last before AtS, and last before FoundS.
	Reads []ValueRead `json:"reads"`
	// Truth are the site's own values at AtS.
	Truth []Figure `json:"truth"`
}

// CommandGiven is a command that took effect.
type CommandGiven struct {
	AtS    Number `json:"at_s"`
	Device string `json:"device"`
	Signal string `json:"signal"`
	Value  Number `json:"value"`
	Unit   string `json:"unit,omitempty"`
	// Word is what a value stands for that is one of several.
	Word string `json:"word,omitempty"`
	// Lapsed says that nobody gave it: an earlier one's time was over.
	Lapsed bool `json:"lapsed,omitempty"`
}

// ValueRead is a value that the controller had read.
type ValueRead struct {
	AtS    Number `json:"at_s"`
	Device string `json:"device"`
	Signal string `json:"signal"`
	Told   Number `json:"told"`
	// True is what was so when it was read.
	True Number `json:"true"`
	Unit string `json:"unit,omitempty"`
}

// shownCommands is how many commands, and values, the text of a cause has at most; the file has them all.
const shownCommands = 4

// Explain tells the cause in lines of the same form as a criterion's five parts.
func (c *Cause) Explain() string {
	var lines []string
	add := func(head, text string) { lines = append(lines, fmt.Sprintf("%-11s%s", head, text)) }
	commands := c.Commands
	if len(commands) == 0 {
		add("did", "nothing: no command took effect")
	}
	for i, x := range commands[max(0, len(commands)-shownCommands):] {
		add(first(i, "did"), x.text())
	}
	reads := c.latest()
	for i, x := range reads[:min(len(reads), 2*shownCommands)] {
		add(first(i, "had read"), x.text())
	}
	if len(reads) == 0 {
		add("had read", "nothing to steer by")
	}
	var truth []string
	for _, x := range c.Truth {
		truth = append(truth, x.Name+" "+Quantity(x.Value, x.Unit))
	}
	if truth != nil {
		add("true then", strings.Join(truth, ", "))
	}
	return strings.Join(lines, "\n")
}

// first is a line's head, on the first of several alone.
func first(i int, head string) string {
	if i > 0 {
		return ""
	}
	return head
}

// latest leaves of each value the last one that was read before the criterion was broken, or else the last.
func (c *Cause) latest() []ValueRead {
	var list []ValueRead
	for _, x := range c.Reads {
		at := len(list)
		for i := range list {
			if list[i].Device == x.Device && list[i].Signal == x.Signal {
				at = i
			}
		}
		switch broken, _ := c.AtS.Value(); {
		case at == len(list):
			list = append(list, x)
		case x.AtS.value <= broken:
			list[at] = x
		}
	}
	return list
}

func (x CommandGiven) text() string {
	value := cmp.Or(x.Word, Quantity(x.Value, x.Unit))
	if x.Lapsed {
		value += ", since an earlier command's time was over"
	}
	return fmt.Sprintf("%s at %s: %s %s", x.Device, moment(x.AtS), x.Signal, value)
}

func (x ValueRead) text() string {
	return fmt.Sprintf("%s at %s: %s %s, truly %s", x.Device, moment(x.AtS), x.Signal,
		Quantity(x.Told, x.Unit), Quantity(x.True, x.Unit))
}

func moment(n Number) string {
	s, known := n.Value()
	if !known {
		return "an unknown time"
	}
	return Moment(s)
}
