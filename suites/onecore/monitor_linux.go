package onecore

import (
	"os"
	"slices"
	"time"

	"golang.org/x/sys/unix"
)

// standBack is the nice value of a monitor that stands back: of a core that others want as well it gets a tenth.
const standBack = 10

// Hush lets the monitor of Go's scheduler stand back, once so much time has passed, until release is called. It wakes each 20 us while
// calls into the system are long, between the bench and its controller that take turns: a day with a poll each 10 s took an eighth
// longer for it. But it also frees what a long call keeps, such as one that waits for a process; so it is for a run that
// lasts, some time after its controller was started. Where the system lets no thread come forward again, it stays back.
func Hush(after time.Duration) (release func()) {
	list := threads()
	first := slices.Index(list, os.Getpid())
	if first < 0 {
		return func() {}
	}
	// Go starts the monitor before any other thread (main in runtime/proc.go): its number follows the first's. Were it another, that one
	// would only be slower.
	monitor := list[(first+1)%len(list)]
	raw, err := unix.Getpriority(unix.PRIO_PROCESS, monitor)
	before := 20 - raw // getpriority(2): the system call returns 20 less the nice value
	if err != nil || before >= standBack {
		return func() {}
	}
	hushed := make(chan struct{})
	wait := time.AfterFunc(after, func() {
		_ = unix.Setpriority(unix.PRIO_PROCESS, monitor, standBack)
		close(hushed)
	})
	return func() {
		if wait.Stop() {
			return
		}
		<-hushed
		for _, id := range threads() { // the monitor, and those that it began meanwhile
			if raw, err := unix.Getpriority(unix.PRIO_PROCESS, id); err == nil && raw == 20-standBack {
				_ = unix.Setpriority(unix.PRIO_PROCESS, id, before)
			}
		}
	}
}
