package emulator

import (
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strconv"
	"time"

	"kilter/emulator/registers"
)

// tell sends the line of this instant. It is laid out by hand: a year of polls has millions of them.
func (d *Dialogue) tell(c *Client) error {
	t := append(d.text[:0], `{"time_s":`...)
	t = strconv.AppendFloat(t, c.Now().Seconds(), 'g', -1, 64)
	t = append(t, `,"local":"`...)
	t = c.Local().AppendFormat(t, time.RFC3339)
	t = append(t, `","devices":{`...)
	var lost []refusal
	for i, device := range c.bench.devices {
		if i > 0 {
			t = append(t, ',')
		}
		t = append(strconv.AppendQuote(t, device.name), ":{"...)
		l := c.lines[device.name]
		first := true
		for _, s := range d.told(l) {
			value, err := c.Read(device.name, s)
			switch {
			case errors.Is(err, ErrOver):
				return err
			case errors.Is(err, ErrUnknown):
				value = math.NaN()
			case err != nil:
				lost = append(lost, refusal{device.name, s.String(), err.Error()})
			}
			if !first {
				t = append(t, ',')
			}
			first = false
			t = appendValue(append(strconv.AppendQuote(t, s.String()), ':'), s, value)
			if errors.Is(err, ErrUnanswered) {
				break // each more would cost the reply timeout
			}
		}
		t = append(t, '}')
	}
	t = append(t, '}')
	for _, x := range []struct {
		key  string
		list []refusal
	}{{"lost", lost}, {"refused", d.refused}} {
		if len(x.list) == 0 {
			continue
		}
		text, err := json.Marshal(x.list)
		if err != nil {
			return err
		}
		t = append(append(append(append(t, `,"`...), x.key...), `":`...), text...)
	}
	d.text = append(t, "}\n"...)
	_, err := d.to.Write(d.text)
	return err
}

// appendValue writes a value as JSON: a number, the word of a state, or null for what is not known.
func appendValue(t []byte, s registers.Signal, value float64) []byte {
	if word, is := s.WordOf(value); is {
		return strconv.AppendQuote(t, word)
	}
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return append(t, "null"...)
	}
	return strconv.AppendFloat(t, value, 'g', digits, 64)
}

// digits are more than a register of 32 bits has, and hide the rounding of its scale.
const digits = 12

// told lists the signals of a device that the program wants to know: those that its map shows and the program has
// asked for, or all but the ratings, which stand in the bench file.
func (d *Dialogue) told(l *line) []registers.Signal {
	if list, has := d.shown[l.name]; has {
		return list
	}
	list := []registers.Signal{}
	for _, p := range l.image.Points() {
		s := p.Signal
		wanted := d.wanted == nil && !s.IsRating() || slices.Contains(d.wanted, s)
		if s != registers.NoSignal && wanted && !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	if d.shown == nil {
		d.shown = map[string][]registers.Signal{}
	}
	d.shown[l.name] = list
	return list
}
