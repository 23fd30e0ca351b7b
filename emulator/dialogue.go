package emulator

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"kilter/emulator/registers"
)

// Dialogue is a controller that speaks in lines on its standard input and output, as a Policy: at each instant that it
// has asked for it gets a line that tells what its devices show, and answers with one that says what they shall do,
// and after how long it wants the next. Lines are JSON objects; emulator/README.md describes them.
type Dialogue struct {
	stdin, stdout *os.File // the program's ends
	to, from      *os.File
	answers       *bufio.Reader
	begun         bool
	count         int                           // answers so far
	wanted        []registers.Signal            // nil for all
	shown         map[string][]registers.Signal // those of each device that are told
	refused       []refusal
	text          []byte
}

// Answer is a line of the controller.
type Answer struct {
	// Commands take effect in their order.
	Commands []LineCommand `json:"commands"`
	// WaitS is after how many seconds of simulated time the controller wants the next line.
	WaitS float64 `json:"wait_s"`
	// Read names the signals that it wants to be told from now on; without it, it is told all.
	Read []string `json:"read"`
}

// LineCommand is one command of an answer.
type LineCommand struct {
	Device string `json:"device"`
	Signal string `json:"signal"`
	// Value has inside units and sign, or is the word of a state. Null takes a command away that has enable bits.
	Value json.RawMessage `json:"value"`
}

// refusal is a command that had no effect.
type refusal struct {
	Device string `json:"device"`
	Signal string `json:"signal"`
	Why    string `json:"why"`
}

// longestAnswer is far more than an answer needs: a program may print without end.
const longestAnswer = 1 << 20

// newDialogue makes the pipes.
func newDialogue() (*Dialogue, error) {
	d := &Dialogue{}
	var err error
	if d.stdin, d.to, err = os.Pipe(); err != nil {
		return nil, err
	}
	if d.from, d.stdout, err = os.Pipe(); err != nil {
		d.stdin.Close()
		d.to.Close()
		return nil, err
	}
	d.answers = bufio.NewReaderSize(d.from, 4096)
	return d, nil
}

// started closes the program's ends, which it has now.
func (d *Dialogue) started() {
	d.stdin.Close()
	d.stdout.Close()
}

// close ends the dialogue: the program sees the end of its input.
func (d *Dialogue) close() {
	d.to.Close()
	d.from.Close()
}

// Poll tells the program what its devices show, and does what it answers.
func (d *Dialogue) Poll(c *Client) (time.Duration, error) {
	if !d.begun {
		d.begun = true
		go func() {
			select {
			case <-c.over:
			case <-c.bench.over:
			}
			d.close()
		}()
		if err := d.greet(c); err != nil {
			return 0, d.ended(c, err)
		}
	}
	if err := d.tell(c); err != nil {
		return 0, d.ended(c, err)
	}
	a, err := d.hear()
	if err != nil {
		return 0, d.ended(c, err)
	}
	if err := d.obey(c, a); err != nil {
		return 0, err
	}
	return time.Duration(a.WaitS * float64(time.Second)), nil
}

// ended waits, where the program has closed its end, for the bench to learn how it ended, and be it that it is over.
func (d *Dialogue) ended(c *Client, err error) error {
	var wrong *badAnswer
	if errors.As(err, &wrong) || errors.Is(err, ErrOver) {
		return err
	}
	select {
	case <-c.over:
	case <-c.bench.over:
	}
	return ErrOver
}

// greet sends the bench file as the first line.
func (d *Dialogue) greet(c *Client) error {
	text, err := json.Marshal(struct {
		Bench File `json:"bench"`
	}{c.Bench()})
	if err != nil {
		return err
	}
	_, err = d.to.Write(append(text, '\n'))
	return err
}

// badAnswer is a line that is none.
type badAnswer struct {
	line int
	text string
}

func (e *badAnswer) Error() string {
	return fmt.Sprintf(`a line that is no answer, line %d: %s; right would be {"commands": [{"device": "south", "signal": "charge_limit", "value": 500}], "wait_s": 10}`, e.line, e.text)
}

// hear reads one answer.
func (d *Dialogue) hear() (a Answer, err error) {
	var line []byte
	for {
		part, err := d.answers.ReadSlice('\n')
		line = append(line, part...)
		if err == nil {
			break
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return a, err
		}
		if len(line) > longestAnswer {
			return a, d.wrong("longer than %d bytes", longestAnswer)
		}
	}
	d.count++
	decoder := json.NewDecoder(bytes.NewReader(line))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&a); err != nil {
		return a, d.wrong("%v in %.80q", err, line)
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return a, d.wrong("more than one object in %.80q", line)
	}
	if !(a.WaitS >= 0.001 && a.WaitS <= 1e9) {
		return a, d.wrong("wait_s is %g: must be from 0.001 to 1e9", a.WaitS)
	}
	if a.Read != nil {
		d.wanted, d.shown = []registers.Signal{}, nil
		for _, name := range a.Read {
			s, err := registers.ParseSignal(name)
			if err != nil {
				return a, d.wrong("read: %v", err)
			}
			d.wanted = append(d.wanted, s)
		}
	}
	return a, nil
}

func (d *Dialogue) wrong(format string, args ...any) error {
	return &badAnswer{d.count, fmt.Sprintf(format, args...)}
}

// obey carries out the commands; what is refused is told in the next line.
func (d *Dialogue) obey(c *Client, a Answer) error {
	d.refused = d.refused[:0]
	for _, x := range a.Commands {
		err := d.command(c, x)
		if errors.Is(err, ErrOver) {
			return err
		}
		if err != nil {
			d.refused = append(d.refused, refusal{x.Device, x.Signal, err.Error()})
		}
	}
	return nil
}

func (d *Dialogue) command(c *Client, x LineCommand) error {
	s, err := registers.ParseSignal(x.Signal)
	if err != nil {
		return err
	}
	var value float64
	var word string
	switch {
	case len(x.Value) == 0:
		return errors.New("no value")
	case bytes.Equal(x.Value, []byte("null")):
		return c.Release(x.Device, s)
	case json.Unmarshal(x.Value, &value) == nil:
		return c.Write(x.Device, s, value)
	case json.Unmarshal(x.Value, &word) == nil:
		if value, is := s.ValueOf(word); is {
			return c.Write(x.Device, s, value)
		}
	}
	return fmt.Errorf("%s cannot be %s", s, x.Value)
}
