package emulator

import (
	"bytes"
	"os"
	"runtime"
	"strconv"
	"syscall"
	"time"
)

// clockTicks is how many ticks of processor time a second has in /proc: 100 on every Linux that Go runs on.
const clockTicks = 100

// usageOf sums up what the processes of a group use. Processor time of those that have ended counts where their
// parent has waited for them.
func usageOf(group int) (usage, error) {
	var sum usage
	all, err := os.Open("/proc")
	if err != nil {
		return sum, err
	}
	names, err := all.Readdirnames(-1)
	all.Close()
	if err != nil {
		return sum, err
	}
	for _, name := range names {
		// A machine has many processes; whose group one is, is far sooner asked than its file is read.
		id, err := strconv.Atoi(name)
		if err != nil {
			continue // no process
		}
		if of, err := syscall.Getpgid(id); err != nil || of != group {
			continue
		}
		text, err := os.ReadFile("/proc/" + name + "/stat")
		if err != nil {
			continue // it has ended
		}
		// The program's name, which may hold anything, ends at the last parenthesis; the state is field 3.
		at := bytes.LastIndexByte(text, ')')
		if at < 0 {
			continue
		}
		fields := bytes.Fields(text[at+1:])
		number := func(field int) int64 {
			if field-3 >= len(fields) {
				return 0
			}
			n, _ := strconv.ParseInt(string(fields[field-3]), 10, 64)
			return n
		}
		const user, system, childUser, childSystem, resident = 14, 15, 16, 17, 24
		ticks := number(user) + number(system) + number(childUser) + number(childSystem)
		sum.cpu += time.Duration(ticks) * time.Second / clockTicks
		sum.memory += number(resident) * int64(os.Getpagesize())
	}
	return sum, nil
}

// start starts the process so that it is killed when the bench itself is, however that ends. The system ties this to
// the thread that starts it, which therefore lives as long as the process does.
func (p *Process) start() error {
	p.command.SysProcAttr.Pdeathsig = syscall.SIGKILL
	started := make(chan error)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := p.command.Start()
		started <- err
		if err == nil {
			<-p.over
		}
	}()
	return <-started
}
