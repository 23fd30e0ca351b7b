package emulator

import (
	"cmp"
	"errors"
	"fmt"
	"time"
)

// Limits are what a controller and all that it starts may use. Zero takes the default.
type Limits struct {
	CPU    time.Duration // processor time
	Memory int64         // resident [bytes]
	Output int64         // printed [bytes]
}

// DefaultLimits are far above what a controller needs and below what harms a machine.
var DefaultLimits = Limits{CPU: time.Hour, Memory: 2 << 30, Output: 256 << 20}

func (l Limits) withDefaults() Limits {
	return Limits{
		CPU: cmp.Or(l.CPU, DefaultLimits.CPU), Memory: cmp.Or(l.Memory, DefaultLimits.Memory), Output: cmp.Or(l.Output, DefaultLimits.Output),
	}
}

// runaway is a controller that was stopped since it used more than it may.
type runaway struct{ text string }

func (r *runaway) Error() string { return r.text }

// It is looked how much a controller uses lookEvery on the wall clock. Where many processes run that takes long, and it is
// looked so much more rarely that it takes one part in lookShare of a processor, but no more rarely than lookAtLeast.
const (
	lookEvery   = 200 * time.Millisecond
	lookAtLeast = 2 * time.Second
	lookShare   = 100
)

// usage is what a process group uses at a time.
type usage struct {
	cpu    time.Duration
	memory int64
}

// exceeded says what of the limits a use is beyond, if any.
func (l Limits) exceeded(u usage, printed int64) error {
	over := func(what string, used, may any) error {
		return &runaway{fmt.Sprintf("%s %v, and may %v", what, used, may)}
	}
	switch {
	case u.cpu > l.CPU:
		return over("it had used processor time of", u.cpu.Round(time.Second), l.CPU)
	case u.memory > l.Memory:
		return over("it took memory of", mebibytes(u.memory), mebibytes(l.Memory))
	case printed > l.Output:
		return over("it had printed", mebibytes(printed), mebibytes(l.Output))
	}
	return nil
}

func mebibytes(n int64) string { return fmt.Sprintf("%.4g MiB", float64(n)/(1<<20)) }

// watch waits for the exit of a process, and kills one that uses more than it may.
func (p *Process) watch(limits Limits) {
	limits = limits.withDefaults()
	exit := make(chan error, 1)
	go func() { exit <- p.command.Wait() }()
	look := time.NewTimer(lookEvery)
	defer look.Stop()
	var beyond error
	for {
		select {
		case err := <-exit:
			p.end(cmp.Or(beyond, err))
			return
		case <-look.C:
			if beyond != nil {
				continue
			}
			began := time.Now()
			used, err := usageOf(p.command.Process.Pid)
			look.Reset(min(max(lookEvery, lookShare*time.Since(began)), lookAtLeast))
			if err != nil && !errors.Is(err, errors.ErrUnsupported) {
				continue // it is just ending
			}
			if beyond = limits.exceeded(used, p.output.taken.Load()); beyond != nil {
				p.Continue()
				p.signal(9)
			}
		}
	}
}
