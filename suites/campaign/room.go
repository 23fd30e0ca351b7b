package campaign

import (
	"os"
	"runtime"
)

// threadsForSlot is how many threads may run Go code for each run that is played at once. A run goes to and fro between the bench
// and its controller's process; while the system keeps the bench's thread waiting for a core, another must be free to go on
// with another run. With as many threads as cores, two runs in one process were a quarter slower than in two processes on a
// machine that many others used; with four each they were as fast there.
const threadsForSlot = 4

// MakeRoom lets so many runs be played at once in this process without one waiting for another. Whoever has set GOMAXPROCS keeps
// what was set.
func MakeRoom(slots int) {
	if os.Getenv("GOMAXPROCS") == "" {
		runtime.GOMAXPROCS(max(runtime.GOMAXPROCS(0), threadsForSlot*slots))
	}
}
