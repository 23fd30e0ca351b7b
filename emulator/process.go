package emulator

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"time"
)

// Process is a controller that the bench has started. It runs in a process group of its own, so
// that whatever it starts ends with it.
type Process struct {
	command *exec.Cmd
	gone    chan error // the exit, once
}

// BenchVariable is the environment variable that holds the path of the bench file.
const BenchVariable = "KILTER_BENCH"

// StartProcess starts a controller. Its words come from SplitCommand; its output goes to log.
func StartProcess(words []string, benchFile string, log io.Writer) (*Process, error) {
	if err := FindProgram(words[0]); err != nil {
		return nil, err
	}
	c := exec.Command(words[0], words[1:]...)
	c.Env = append(os.Environ(), BenchVariable+"="+benchFile)
	c.Stdout, c.Stderr = log, log
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	c.WaitDelay = 2 * time.Second // for output that a grandchild keeps open
	if err := c.Start(); err != nil {
		return nil, &ControllerError{Text: fmt.Sprintf("the controller cannot be started: %v", err)}
	}
	p := &Process{command: c, gone: make(chan error, 1)}
	go func() { p.gone <- c.Wait(); close(p.gone) }()
	return p, nil
}

// Gone yields the exit of the process, nil for exit code 0.
func (p *Process) Gone() <-chan error { return p.gone }

// Stop ends the process and all that it has started. It first lets the process leave by itself for
// some time, so that one which has seen its connections close can tidy up; then it asks with a
// signal, and after some more time it kills.
func (p *Process) Stop(leave, obey time.Duration) {
	group := -p.command.Process.Pid
	if !p.within(leave) {
		syscall.Kill(group, syscall.SIGTERM)
		if !p.within(obey) {
			syscall.Kill(group, syscall.SIGKILL)
			<-p.gone
			return
		}
	}
	syscall.Kill(group, syscall.SIGKILL) // whatever it has left behind
}

// within says whether the process is gone before the time is over.
func (p *Process) within(patience time.Duration) bool {
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case <-p.gone:
		return true
	case <-timer.C:
		return false
	}
}

// SplitCommand splits a command line into words. Single and double quotes keep blanks together,
// and a backslash outside single quotes takes the next character as it is; there are no
// variables and no patterns.
func SplitCommand(line string) ([]string, error) {
	var words []string
	var word strings.Builder
	inWord, quote := false, rune(0)
	escaped := false
	for _, r := range line {
		switch {
		case escaped:
			word.WriteRune(r)
			escaped = false
		case r == '\\' && quote != '\'':
			escaped, inWord = true, true
		case quote != 0:
			if r == quote {
				quote = 0
			} else {
				word.WriteRune(r)
			}
		case r == '\'' || r == '"':
			quote, inWord = r, true
		case r == ' ' || r == '\t' || r == '\n':
			if inWord {
				words = append(words, word.String())
				word.Reset()
				inWord = false
			}
		default:
			word.WriteRune(r)
			inWord = true
		}
	}
	if quote != 0 || escaped {
		return nil, fmt.Errorf("controller command %q: a quote or a backslash is left open at the end", line)
	}
	if inWord {
		words = append(words, word.String())
	}
	if len(words) == 0 {
		return nil, errors.New("the controller command is empty; give a program, such as 'python3 mine.py'")
	}
	return words, nil
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
	return &ControllerError{Text: fmt.Sprintf("the controller cannot be started: %q: %v; give the path of a program, or a name on PATH", name, why)}
}
