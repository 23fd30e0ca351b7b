package suites

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"

	"kilter/emulator"
	"kilter/emulator/registers"
)

// The heads of the files that keep what controllers did; each line begins with the tick.
var (
	commandsHead = []string{"tick", "time_s", "device", "signal", "value", "register", "raw", "lapsed", "forgotten", "controller", "lasts_s", "timeable"}
	writesHead   = []string{"tick", "time_s", "device", "function", "register", "values", "outcome", "detail"}
	seenHead     = []string{"tick", "device", "what", "number", "signal", "told", "true"}
)

func whole(n int64) string     { return strconv.FormatInt(n, 10) }
func exactly(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
func timeOf(at float64) string { return strconv.FormatFloat(at, 'f', 3, 64) }

// writeCommands writes the command stream, whole: each command with the tick at whose
// beginning it took effect.
func writeCommands(w *bytes.Buffer, out *Outcome) error {
	c := csv.NewWriter(w)
	c.Write(commandsHead)
	step := out.Scenario.Step.Seconds()
	for _, x := range out.Record.Commands {
		c.Write([]string{
			whole(x.Tick), timeOf(float64(x.Tick) * step), x.Device, x.Signal.String(), exactly(x.Value), registerOf(x),
			strconv.FormatUint(x.Raw, 10), strconv.FormatBool(x.Lapsed), strconv.FormatBool(x.Forgotten),
			strconv.Itoa(x.Controller), exactly(x.LastsS), strconv.FormatBool(x.Timeable),
		})
	}
	c.Flush()
	return c.Error()
}

// registerOf is the register that a command was written to; none for one that lapsed.
func registerOf(c emulator.Command) string {
	if c.Lapsed {
		return ""
	}
	return strconv.Itoa(int(c.Register))
}

// writeWrites writes every request to write, with what became of it.
func writeWrites(w *bytes.Buffer, out *Outcome) error {
	c := csv.NewWriter(w)
	c.Write(writesHead)
	step := out.Scenario.Step.Seconds()
	for _, x := range out.Writes {
		values := make([]string, len(x.Values))
		for i, v := range x.Values {
			values[i] = strconv.Itoa(int(v))
		}
		c.Write([]string{
			whole(x.Tick), timeOf(float64(x.Tick) * step), x.Device, strconv.Itoa(int(x.Function)), strconv.Itoa(int(x.Register)), strings.Join(values, " "),
			x.Outcome.String(), x.Detail,
		})
	}
	c.Flush()
	return c.Error()
}

// writeSeen writes what the monitors saw of controllers beside their commands, whole: how many requests a device had
// since the tick before, what was written and read, and whether the controller was there.
func writeSeen(w *bytes.Buffer, out *Outcome) error {
	c := csv.NewWriter(w)
	c.Write(seenHead)
	devices := newSetting(out.Scenario).devices
	for _, x := range out.Record.Seen {
		line := []string{whole(x.Tick), "", emulator.Whats[x.What], strconv.Itoa(x.Number), "", "", ""}
		if x.What != emulator.SawController {
			line[1] = devices[x.Place]
		}
		switch x.What {
		case emulator.SawWritten, emulator.SawRefused:
			line[4] = strconv.Itoa(x.Signal)
		case emulator.SawTold:
			line[4], line[5], line[6] = registers.Signal(x.Signal).String(), exactly(x.Told), exactly(x.True)
		}
		c.Write(line)
	}
	c.Flush()
	return c.Error()
}
