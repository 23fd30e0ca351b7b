package emulator

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync/atomic"
	"syscall"
	"time"
)

// Launch says how a controller is started.
type Launch struct {
	// Words are the program and its arguments.
	Words []string
	// File is the path of the bench file.
	File string
	// Settings are environment variables of its own, each as NAME=VALUE.
	Settings []string
	// Output gets the lines that it prints, each behind the simulated time.
	Output io.Writer
	// Mark stands before each of its lines, to tell it from another.
	Mark string
	// Now is the simulated time.
	Now func() time.Duration
	// Limits are what it may use.
	Limits Limits
	// Dialogue, if not nil, is what it speaks on its standard input and output; it prints on standard error then.
	Dialogue *Dialogue
}

// Process is a controller that the bench has started. It runs in a process group of its own, so
// that whatever it starts ends with it.
type Process struct {
	command   *exec.Cmd
	output    *output
	over      chan struct{} // closed when it is gone
	gone      chan error    // the exit, once
	condemned atomic.Bool   // its end is wanted, and no news
	speaks    *Performer    // what it speaks in lines, if it does
}

// BenchVariable is the environment variable that holds the path of the bench file.
const BenchVariable = "KILTER_BENCH"

// StartProcess starts a controller.
func StartProcess(l Launch) (*Process, error) {
	if err := FindProgram(l.Words[0]); err != nil {
		return nil, err
	}
	out, write, err := newOutput(l.Mark, l.Output, l.Now)
	if err != nil {
		return nil, fmt.Errorf("a pipe for the controller's output: %w", err)
	}
	defer write.Close()
	c := exec.Command(l.Words[0], l.Words[1:]...)
	c.Env = append(append(os.Environ(), l.Settings...), BenchVariable+"="+l.File)
	c.Stdout, c.Stderr = write, write
	if d := l.Dialogue; d != nil {
		defer d.started()
		c.Stdin, c.Stdout = d.stdin, d.stdout
	}
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	p := &Process{command: c, output: out, over: make(chan struct{}), gone: make(chan error, 1)}
	if err := p.start(); err != nil {
		out.close()
		return nil, &ControllerError{Text: fmt.Sprintf("the controller cannot be started: %v", err)}
	}
	go out.follow()
	go p.watch(l.Limits)
	return p, nil
}

// Gone yields the exit of the process, nil for exit code 0.
func (p *Process) Gone() <-chan error { return p.gone }

// Collect takes in what has been printed so far.
func (p *Process) Collect() { p.output.collect() }

// Pause makes the process and all that it has started stand still.
func (p *Process) Pause() { p.signal(syscall.SIGSTOP) }

// Continue lets it go on.
func (p *Process) Continue() { p.signal(syscall.SIGCONT) }

// Kill ends the process and all that it has started, without a warning, and returns when it is gone.
func (p *Process) Kill() {
	p.signal(syscall.SIGKILL)
	<-p.over
}

// signal sends a signal to the whole group.
func (p *Process) signal(s syscall.Signal) { _ = syscall.Kill(-p.command.Process.Pid, s) }

// Stop ends the process and all that it has started. It first lets the process leave by itself for
// some time, so that one which has seen its connections close can tidy up; then it asks with a
// signal, and after some more time it kills.
func (p *Process) Stop(leave, obey time.Duration) {
	p.Continue() // a paused one could not hear of the end
	if !p.within(leave) {
		p.signal(syscall.SIGTERM)
		p.within(obey)
	}
	p.Kill() // and whatever it has left behind
}

// within says whether the process is gone before the time is over.
func (p *Process) within(patience time.Duration) bool {
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case <-p.over:
		return true
	case <-timer.C:
		return false
	}
}

// lastWords is how long the output of a process that is gone may stay open, since something that left its group
// holds it.
const lastWords = 2 * time.Second

// end tells the exit once nothing more is printed.
func (p *Process) end(exit error) {
	p.signal(syscall.SIGKILL) // what it has started ends with it
	timer := time.NewTimer(lastWords)
	defer timer.Stop()
	select {
	case <-p.output.ended:
	case <-timer.C:
	}
	p.output.close()
	close(p.over)
	p.gone <- exit
	close(p.gone)
}

// FindProgram says whether a controller's program can be found, before anything is begun.
func FindProgram(name string) error {
	_, err := exec.LookPath(name)
	if err == nil {
		return nil
	}
	why := err
	if inner := errors.Unwrap(err); inner != nil {
		why = inner
	}
	cure := "give the path of a program, or a name on PATH"
	if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() { // a script, most likely
		cure = fmt.Sprintf("the file is there: give what runs it too, such as 'python3 %s', or make it executable and give its path, such as ./%s",
			name, filepath.Base(name))
	}
	return &ControllerError{Text: fmt.Sprintf("the controller cannot be started: %q: %v; %s", name, why, cure)}
}
