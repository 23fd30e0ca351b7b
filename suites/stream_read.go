package suites

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"kilter/emulator"
	"kilter/emulator/registers"
)

// line is one line of a file that keeps what controllers did. What is wrong with it is kept, and told once it is read.
type line struct {
	head   []string
	fields []string
	err    *error
}

// readStream reads such a file line by line. Its head must be the one that is written now.
func readStream(path string, head []string, each func(line)) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("%s: no such file, which a run of this version keeps; the run cannot be judged again", path)
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.FieldsPerRecord = len(head)
	in.ReuseRecord = true
	for n := 0; ; n++ {
		fields, err := in.Read()
		if errors.Is(err, io.EOF) && n > 0 {
			return nil
		}
		var wrong *csv.ParseError
		switch {
		case errors.As(err, &wrong):
			return fmt.Errorf("%s:%d: %w, want the columns %s", path, wrong.Line, wrong.Err, strings.Join(head, ", "))
		case err != nil:
			return fmt.Errorf("%s: %w", path, err)
		case n == 0 && !slices.Equal(fields, head):
			return fmt.Errorf("%s:1: found the columns %s, want %s; another version recorded this run", path, strings.Join(fields, ", "), strings.Join(head, ", "))
		case n == 0:
			continue
		}
		l := line{head, fields, new(error)}
		each(l)
		if *l.err != nil {
			at, _ := in.FieldPos(0)
			return fmt.Errorf("%s:%d: %w", path, at, *l.err)
		}
	}
}

// at is a field by its column.
func (l line) at(column string) string { return l.fields[slices.Index(l.head, column)] }

func (l line) wrong(column, want string) {
	if *l.err == nil {
		*l.err = fmt.Errorf("%s: found %q, want %s", column, l.at(column), want)
	}
}

func (l line) whole(column string) int64 {
	v, err := strconv.ParseInt(l.at(column), 10, 64)
	if err != nil || v < 0 {
		l.wrong(column, "a whole number")
		return 0
	}
	return v
}

func (l line) number(column string) float64 {
	v, err := strconv.ParseFloat(l.at(column), 64)
	if err != nil {
		l.wrong(column, "a number")
	}
	return v
}

func (l line) flag(column string) bool {
	v, err := strconv.ParseBool(l.at(column))
	if err != nil {
		l.wrong(column, "true or false")
	}
	return v
}

func (l line) signal(column string) registers.Signal {
	s, err := registers.ParseSignal(l.at(column))
	if err != nil {
		l.wrong(column, "a signal")
	}
	return s
}

// word is the place of a field among words.
func (l line) word(column string, words []string) int {
	i := slices.Index(words, l.at(column))
	if i < 0 {
		l.wrong(column, "one of "+strings.Join(words, ", "))
		return 0
	}
	return i
}

func (l line) command() emulator.Command {
	c := emulator.Command{
		Tick: l.whole("tick"), Device: strings.Clone(l.at("device")), Signal: l.signal("signal"), Value: l.number("value"),
		Lapsed: l.flag("lapsed"), Forgotten: l.flag("forgotten"), Controller: int(l.whole("controller")), LastsS: l.number("lasts_s"), Timeable: l.flag("timeable"),
	}
	if !c.Lapsed {
		c.Register = uint16(min(l.whole("register"), math.MaxUint16))
	}
	raw, err := strconv.ParseUint(l.at("raw"), 10, 64)
	if err != nil {
		l.wrong("raw", "a whole number")
	}
	c.Raw = raw
	return c
}

func (l line) seen(devices []string) emulator.Seen {
	s := emulator.Seen{Tick: l.whole("tick"), What: emulator.What(l.word("what", emulator.Whats[:])), Number: int(min(l.whole("number"), math.MaxInt32))}
	if s.What != emulator.SawController {
		s.Place = l.word("device", devices)
	}
	switch s.What {
	case emulator.SawController:
		if s.Number > int(emulator.Absent) {
			l.wrong("number", "a controller's presence, 0 to 3")
		}
	case emulator.SawWritten, emulator.SawRefused:
		s.Signal = int(min(l.whole("signal"), math.MaxUint16))
		if s.Number > math.MaxUint16 {
			l.wrong("number", "a number of registers")
		}
	case emulator.SawTold:
		s.Signal, s.Told, s.True = int(l.signal("signal")), l.number("told"), l.number("true")
	}
	return s
}

func (l line) write() emulator.Write {
	w := emulator.Write{
		Tick: l.whole("tick"), Device: strings.Clone(l.at("device")), Function: byte(l.whole("function")), Register: uint16(l.whole("register")),
		Outcome: emulator.Outcome(l.word("outcome", outcomes)), Detail: strings.Clone(l.at("detail")),
	}
	for _, v := range strings.Fields(l.at("values")) {
		n, err := strconv.ParseUint(v, 10, 16)
		if err != nil {
			l.wrong("values", "registers")
		}
		w.Values = append(w.Values, uint16(n))
	}
	return w
}

// outcomes are the words for what became of a write.
var outcomes = []string{emulator.Taken.String(), emulator.NotInForce.String(), emulator.Refused.String(), emulator.Unanswered.String()}
