package onecore

import (
	"os"
	"runtime"
	"slices"
	"strconv"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Here is the place, among the cores that this process may use, of the one that it runs on.
func Here() int {
	var cpu uint32
	if _, _, failed := unix.RawSyscall(unix.SYS_GETCPU, uintptr(unsafe.Pointer(&cpu)), 0, 0); failed != 0 {
		return 0
	}
	_, list := cores()
	for place, core := range list {
		if core == int(cpu) {
			return place
		}
	}
	return 0
}

// Keep keeps this process, and what it starts from now on, on the core at that place, counted round and round among those that it
// may use, until release is called. One thread runs Go code meanwhile. It is for a process that plays one run at a time; where the
// system refuses, nothing is changed.
func Keep(place int) (release func()) {
	before, list := cores()
	if len(list) < 2 {
		return func() {}
	}
	var one unix.CPUSet
	one.Set(list[place%len(list)])
	if !bind(&one) {
		return func() {}
	}
	threads := runtime.GOMAXPROCS(1)
	return func() {
		bind(&before)
		runtime.GOMAXPROCS(threads)
	}
}

// cores are those that this process may use, in order; none where the system does not tell.
func cores() (may unix.CPUSet, list []int) {
	if unix.SchedGetaffinity(0, &may) != nil {
		return may, nil
	}
	for core := 0; len(list) < may.Count(); core++ {
		if may.IsSet(core) {
			list = append(list, core)
		}
	}
	return may, list
}

// bind lets every thread of this process run on those cores only, and says whether the system has let it. A new thread is bound as
// the one that began it, so that it looks until it finds none that is new.
func bind(to *unix.CPUSet) (done bool) {
	bound := map[int]bool{}
	for fresh := true; fresh; {
		fresh = false
		for _, id := range threads() {
			if bound[id] {
				continue
			}
			bound[id], fresh = true, true
			if unix.SchedSetaffinity(id, to) == nil { // not so for a thread that has ended meanwhile
				done = true
			}
		}
	}
	return done
}

// threads are the numbers of this process's threads, in order.
func threads() (list []int) {
	entries, err := os.ReadDir("/proc/self/task")
	if err != nil {
		return nil
	}
	for _, e := range entries {
		if id, err := strconv.Atoi(e.Name()); err == nil {
			list = append(list, id)
		}
	}
	slices.Sort(list)
	return list
}
