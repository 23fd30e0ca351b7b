package campaign

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"syscall"
	"time"

	"kilter/suites/onecore"
)

// Processes play runs as one Player does, but in a process for each that is played at a time: two runs in one process wait for each
// other, and one that took its process down would take the others along. Where there are as many as cores, each keeps to one core
// with its controller; where there are fewer, somebody wants cores for something else, such as a controller that computes on several.
type Processes struct {
	player *Player
	idle   chan *process
}

// process is this program as PlayFor. It is started for its first run, and plays one at a time.
type process struct {
	place   int       // of its core; anyCore
	command *exec.Cmd // nil while there is none
	end     context.CancelFunc
	runs    io.Writer
	answers *json.Decoder
	said    words
}

// toldFirst is what a process is told before its first run.
type toldFirst struct {
	Player *Player
	Place  int // of its core; anyCore
}

// anyCore stands for no core in particular.
const anyCore = -1

// answer is what a run came to.
type answer struct {
	Result json.RawMessage `json:",omitempty"`
	Error  string          `json:",omitempty"`
}

// NewProcesses lets so many runs be played at once. Close ends them.
func NewProcesses(p *Player, slots int) *Processes {
	s := &Processes{player: p, idle: make(chan *process, slots)}
	first := onecore.Here()
	for i := range slots {
		place := anyCore
		if slots >= runtime.NumCPU() {
			place = first + i
		}
		s.idle <- &process{place: place}
	}
	return s
}

// Work is Player.Work in a process of its own. A run whose process dies, or cannot be started, is played once more after a while; when
// that fails too the error says so.
func (s *Processes) Work(ctx context.Context, body []byte) ([]byte, error) {
	line, err := json.Marshal(json.RawMessage(body))
	if err != nil {
		return nil, unreadable(err)
	}
	var p *process
	select {
	case p = <-s.idle:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { s.idle <- p }()
	result, err := p.work(ctx, s.player, line)
	if died := (*deathError)(nil); errors.As(err, &died) {
		select {
		case <-time.After(beforeAnother):
			result, err = p.work(ctx, s.player, line)
		case <-ctx.Done():
			err = ctx.Err()
		}
	}
	return result, err
}

// Close ends the processes, after the runs that are under way.
func (s *Processes) Close() {
	for range cap(s.idle) {
		p := <-s.idle
		_ = p.stop()
	}
}

// deathError says that a process ended before its run did.
type deathError struct {
	how  error
	said string
}

func (e *deathError) Unwrap() error { return e.how }

func (e *deathError) Error() string {
	text := fmt.Sprintf("the process that played it ended before it did: %v", e.how)
	if e.said != "" {
		text += ", and said " + e.said
	}
	return text
}

// work has one run played.
func (p *process) work(ctx context.Context, player *Player, line []byte) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if p.command == nil {
		if err := p.start(player); err != nil {
			return nil, err
		}
	}
	there := context.AfterFunc(ctx, p.end)
	var a answer
	_, err := p.runs.Write(append(line, '\n'))
	if err == nil {
		err = p.answers.Decode(&a)
	}
	cut := !there()
	if err != nil || cut {
		died := p.bury(err)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, died
	}
	if a.Error != "" {
		return nil, errors.New(a.Error)
	}
	return a.Result, nil
}

// bury ends a process that does not go on, and says why.
func (p *process) bury(seen error) *deathError {
	how := p.stop()
	if how == nil {
		how = seen
	}
	return &deathError{how, p.said.firstLine()}
}

// beforeAnother is how long a slot waits after a process has died: a machine on which none can live answers few runs with errors.
const beforeAnother = time.Second

// leave is how long a process may take to end its controller and itself before it is killed.
const leave = 20 * time.Second

// itself is this very program, whatever has been put in its place meanwhile, on a system that has it: proc(5).
const itself = "/proc/self/exe"

// start begins the process. Its error is a deathError.
func (p *process) start(player *Player) error {
	ctx, end := context.WithCancel(context.Background())
	c := exec.CommandContext(ctx, player.Self[0], append(player.Self[1:len(player.Self):len(player.Self)], "player")...)
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // what interrupts this process from a terminal lets that one end in order
	if _, err := os.Stat(itself); err == nil {
		c.Path = itself
	}
	p.said = words{}
	c.Stderr = &p.said
	runs, err := c.StdinPipe()
	if err != nil {
		end()
		return &deathError{how: err}
	}
	answers, err := c.StdoutPipe()
	if err != nil {
		end()
		return &deathError{how: err}
	}
	c.Cancel, c.WaitDelay = runs.Close, leave // it ends when no more runs can come
	if err := c.Start(); err != nil {
		end()
		return &deathError{how: err}
	}
	p.command, p.end, p.runs, p.answers = c, end, runs, json.NewDecoder(answers)
	first, err := json.Marshal(toldFirst{player, p.place})
	if err == nil {
		_, err = runs.Write(append(first, '\n'))
	}
	if err != nil {
		return p.bury(err)
	}
	return nil
}

// stop ends the process, and returns how it ended.
func (p *process) stop() error {
	if p.command == nil {
		return nil
	}
	p.end()
	err := p.command.Wait()
	p.command = nil
	if errors.Is(err, context.Canceled) {
		return nil // it ended as it was told to
	}
	return err
}

// words keep the beginning of what a process says on standard error: where a program falls over, that is why.
type words struct{ text bytes.Buffer }

const mostWords = 4096

func (w *words) Write(p []byte) (int, error) {
	w.text.Write(p[:min(len(p), mostWords-w.text.Len())])
	return len(p), nil
}

func (w *words) firstLine() string {
	line, _, _ := strings.Cut(strings.TrimSpace(w.text.String()), "\n")
	return line
}
