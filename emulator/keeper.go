package emulator

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"kilter/scenarios"
)

// Keeper holds the processes of a controller under test: it starts them, does to them what a scenario says, and ends
// them all.
type Keeper struct {
	number   int
	mark     string   // before each line of its output
	words    []string // as they were given
	bench    *Bench
	output   *commonLog
	limits   Limits
	settings []string // environment variables of its own
	lines    bool     // it speaks in lines on its standard input and output

	folder        string // of the bench file
	first, second *Process
	gone          chan error
}

// NewKeeper is for a controller that is started with these words. Its output goes to log, and nowhere if that is nil.
func NewKeeper(words []string, log io.Writer, limits Limits) *Keeper {
	if log == nil {
		log = io.Discard
	}
	return &Keeper{words: words, output: &commonLog{to: log}, limits: limits, gone: make(chan error, 1)}
}

// Numbered makes it the controller of that number among several, from 0, whose name stands before each line of its
// output.
func (k *Keeper) Numbered(controller int, name string) *Keeper {
	k.number, k.mark = controller, name+": "
	return k
}

// InLines has it speak in lines on its standard input and output, see Dialogue.
func (k *Keeper) InLines() *Keeper {
	k.lines = true
	return k
}

// Setting gives it environment variables of its own, each as NAME=VALUE.
func (k *Keeper) Setting(variables []string) *Keeper {
	k.settings = variables
	return k
}

// Open writes the bench file, and starts the controller unless the scenario has it start late.
func (k *Keeper) Open(b *Bench) error {
	folder, err := os.MkdirTemp("", "kilter-bench-")
	if err != nil {
		return fmt.Errorf("a folder for the bench file: %w", err)
	}
	k.folder, k.bench = folder, b
	if err := b.WriteFileOf(k.number, k.file(k.number)); err != nil {
		return err
	}
	if b.trials.doubled {
		if err := b.WriteFileOf(secondCopy, k.file(secondCopy)); err != nil {
			return err
		}
	}
	if b.Scenario().StartsLate() {
		return nil
	}
	return k.Do(scenarios.Start)
}

// file is the path of the bench file: a second copy finds the devices at addresses of its own, so that it is known who
// asks.
func (k *Keeper) file(controller int) string {
	if controller != k.number {
		return filepath.Join(k.folder, "second-copy.json")
	}
	return filepath.Join(k.folder, "bench.json")
}

// Do carries out a deed, and returns when it is done.
func (k *Keeper) Do(deed scenarios.Deed) error {
	var err error
	switch deed {
	case scenarios.Start:
		if k.first, err = k.start(k.number, k.mark); err == nil {
			go k.report(k.first)
		}
	case scenarios.SecondCopy:
		k.second, err = k.start(secondCopy, "(second copy) ")
	case scenarios.Kill:
		k.end(&k.first)
		k.end(&k.second)
	case scenarios.CopyEnds:
		k.end(&k.second)
	case scenarios.Pause:
		k.first.Pause()
	case scenarios.Continue:
		k.first.Continue()
	}
	return err
}

func (k *Keeper) start(controller int, mark string) (*Process, error) {
	file := k.file(controller)
	words, err := FillIn(k.words, k.bench.FileOf(controller), file)
	if err != nil {
		return nil, err
	}
	l := Launch{Words: words, File: file, Settings: k.settings, Output: k.output, Mark: mark, Now: k.bench.Now, Limits: k.limits}
	if !k.lines {
		return StartProcess(l)
	}
	return k.converse(l, controller)
}

// converse starts a controller that speaks in lines.
func (k *Keeper) converse(l Launch, controller int) (*Process, error) {
	var err error
	if l.Dialogue, err = newDialogue(); err != nil {
		return nil, fmt.Errorf("pipes to the controller: %w", err)
	}
	p, err := StartProcess(l)
	if err != nil {
		l.Dialogue.started()
		l.Dialogue.close()
		return nil, err
	}
	p.speaks = k.bench.StartPolicy(l.Dialogue, controller)
	go func() {
		if err := <-p.speaks.gone; err != nil {
			tell(k.gone, err, &p.condemned)
		}
	}()
	return p, nil
}

// report passes on the exit of a controller that nobody has killed.
func (k *Keeper) report(p *Process) {
	tell(k.gone, <-p.gone, &p.condemned)
}

// tell passes on how a controller ended, unless its end was wanted or another's is still to be read.
func tell(gone chan<- error, how error, condemned *atomic.Bool) {
	if condemned.Load() {
		return
	}
	select {
	case gone <- how:
	default:
	}
}

// end kills a process.
func (k *Keeper) end(p **Process) {
	if *p != nil {
		(*p).condemned.Store(true)
		(*p).Kill()
		if speaks := (*p).speaks; speaks != nil {
			speaks.Stop(endless) // its program is gone, so that it has nothing to wait for
		}
		*p = nil
	}
}

// Gone yields the exit of a controller that ended by itself, nil for exit code 0.
func (k *Keeper) Gone() <-chan error { return k.gone }

// Collect takes in what the controller has printed so far.
func (k *Keeper) Collect() {
	for _, p := range []*Process{k.first, k.second} {
		if p != nil {
			p.Collect()
		}
	}
}

// Close ends all that the controller has started, giving it some time to leave by itself and to obey a signal, and
// removes the bench file.
func (k *Keeper) Close(leave, obey time.Duration) error {
	var all sync.WaitGroup
	for _, p := range []*Process{k.first, k.second} {
		if p != nil {
			p.condemned.Store(true)
			all.Go(func() { p.Stop(leave, obey) })
		}
	}
	all.Wait()
	k.first, k.second = nil, nil
	if k.folder == "" {
		return nil
	}
	return os.RemoveAll(k.folder)
}

// commonLog is a log that several processes write to.
type commonLog struct {
	mutex sync.Mutex
	to    io.Writer
}

func (s *commonLog) Write(p []byte) (int, error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.to.Write(p)
}
