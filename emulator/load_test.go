package emulator_test

import (
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/registers"
)

// loadSize is how much the load proofs put on a bench: little, so that they can run with every test, or all of it where
// KILTER_LOAD is full. Times are shown and not judged, since a busy machine is no fault of the bench.
type loadSize struct {
	devices int
	lasts   time.Duration
	hostile int
	rounds  int // of a calm and a hostile phase
	phase   time.Duration
}

func sizeOfLoad() loadSize {
	if os.Getenv("KILTER_LOAD") == "full" {
		return loadSize{devices: 1000, lasts: 5 * time.Minute, hostile: 200, rounds: 3, phase: 11 * time.Second}
	}
	return loadSize{devices: 50, lasts: 3 * time.Second, hostile: 20, rounds: 1, phase: time.Second}
}

// allowFiles lets the test open so many files, as far as the machine does.
func allowFiles(n uint64) {
	GinkgoHelper()
	var limit syscall.Rlimit
	Expect(syscall.Getrlimit(syscall.RLIMIT_NOFILE, &limit)).To(Succeed())
	if limit.Cur >= n {
		return
	}
	if limit.Max < n {
		Skip(fmt.Sprintf("file descriptors are missing: this needs %d, and the hard limit is %d (ulimit -Hn)", n, limit.Max))
	}
	limit.Cur = limit.Max
	Expect(syscall.Setrlimit(syscall.RLIMIT_NOFILE, &limit)).To(Succeed())
}

// memory is what the program holds now, without what is only waiting to be collected.
func memory() (heap, stacks float64) {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc), float64(m.StackInuse)
}

// processorTime is what the program, with its clients, has used so far of all cores.
func processorTime() time.Duration {
	GinkgoHelper()
	var used syscall.Rusage
	Expect(syscall.Getrusage(syscall.RUSAGE_SELF, &used)).To(Succeed())
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// table is what a proof shows: rows of a name and a figure.
type table []string

func (t *table) row(name, format string, args ...any) {
	*t = append(*t, fmt.Sprintf("| %s | %s |", name, fmt.Sprintf(format, args...)))
}

// show puts the table into the test's output.
func (t *table) show(title string) {
	AddReportEntry(title, strings.Join(*t, "\n"), ReportEntryVisibilityAlways)
}

const kib = 1024.0

var _ = Describe("a bench under load", Label("load"), func() {
	It("serves as many clients as devices, one poll a second each, without an error", func() {
		size := sizeOfLoad()
		n := size.devices
		allowFiles(uint64(3*n + 200)) // a listener and both ends of a connection each

		m := registers.SunSpecBattery(3) // all devices share it
		before, _ := memory()
		images := registersAlone(m, n)
		registersHeap, _ := memory()
		runtime.KeepAlive(images)
		runtime.KeepAlive(m)
		images = nil

		var lateness lateness
		empty, _ := memory()
		b := open(street(n, time.Hour), emulator.Options{Pace: emulator.Real, Observe: []func(*emulator.Tick){lateness.see}})
		made, madeStacks := memory()
		play(b, nil)
		clients := pollers(b, n)
		connected, connectedStacks := memory()

		idle := processorTime()
		took := pollFor(clients, size.lasts, time.Second)
		busy := processorTime() - idle
		late := lateness.since()

		var t table
		t.row("devices, connections, polls without an error", "%d, %d, %d", n, len(clients), len(took))
		t.row("latency p50, p99, longest", "%v, %v, %v", share(took, 0.5), share(took, 0.99), took[len(took)-1])
		t.row("plant late p50, p99, latest", "%v, %v, %v of a step of 100ms", share(late, 0.5), share(late, 0.99), late[len(late)-1])
		t.row("processor time, clients included", "%.1f %% of one core", 100*busy.Seconds()/size.lasts.Seconds())
		t.row("heap per device", "%.1f KiB, of it registers %.1f KiB", (made-empty)/kib/float64(n), (registersHeap-before)/kib/float64(n))
		t.row("heap and stack per connection, both ends", "%.1f KiB", (connected+connectedStacks-made-madeStacks)/kib/float64(n))
		t.show("load")

		Expect((registersHeap-before)/float64(n)).To(BeNumerically("<", 4*kib), "a device's registers are far from 65536 words")
		Expect((made - empty) / float64(n)).To(BeNumerically("<", 64*kib))
		Expect(b.Traffic().Exceptions).To(BeZero())
		Expect(b.Traffic().Reads).To(Equal(len(took) + n))
	})

	It("lets hostile clients cost good ones nothing but a share of the machine", func() {
		size := sizeOfLoad()
		const good, period = 10, 20 * time.Millisecond
		allowFiles(uint64(3*(good+size.hostile) + 200))
		b := open(street(good, time.Hour), emulator.Options{Pace: emulator.Real})
		play(b, nil)
		clients := pollers(b, good)

		var calm, beside []time.Duration
		var tally crowdTally
		var busyCalm, busyBeside time.Duration
		// In turns, so that what else the machine does falls on both.
		for range size.rounds {
			begun := processorTime()
			calm = append(calm, pollFor(clients, size.phase, period)...)
			between := processorTime()
			crowd := gatherApart(b, size.hostile)
			beside = append(beside, pollFor(clients, size.phase, period)...)
			tally.add(crowd.disperse())
			busyCalm += between - begun
			busyBeside += processorTime() - between
		}
		slices.Sort(calm)
		slices.Sort(beside)

		var t table
		t.row("good clients, polls without an error alone and beside them", "%d, %d, %d", good, len(calm), len(beside))
		t.row("hostile clients", "%d", size.hostile)
		tally.show(&t)
		t.row("alone: p50, p99, longest", "%v, %v, %v", share(calm, 0.5), share(calm, 0.99), calm[len(calm)-1])
		whole := float64(size.rounds) * size.phase.Seconds()
		t.row("processor time of bench and good clients alone, beside hostile ones", "%.1f %%, %.1f %% of one core",
			100*busyCalm.Seconds()/whole, 100*busyBeside.Seconds()/whole)
		t.row("beside them: p50, p99, longest", "%v, %v, %v", share(beside, 0.5), share(beside, 0.99), beside[len(beside)-1])
		t.row("p99 beside them over p99 alone; the goal is 2", "%.2f", float64(share(beside, 0.99))/float64(share(calm, 0.99)))
		t.show("hostile clients")

		for kind := range manners {
			Expect(tally.Opened[kind]).To(BeNumerically(">=", size.hostile/len(manners)), manners[kind].name)
		}
	})
})

// registersAlone makes the registers of n inverters of one map as a bench does.
func registersAlone(m *registers.Map, n int) []*registers.Image {
	images := make([]*registers.Image, n)
	for i := range images {
		images[i] = registers.NewImage(m, registers.Options{Unit: 1, Serial: fmt.Sprint(i), Ratings: registers.Ratings{PowerW: 5000}})
	}
	return images
}

// lateness observes when, on the wall clock, each step of a plant in real pace comes.
type lateness struct {
	mutex sync.Mutex
	begun time.Time
	came  []time.Duration // after the plant's own time
}

func (l *lateness) see(t *emulator.Tick) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	if l.came == nil {
		l.begun, l.came = time.Now(), make([]time.Duration, 0, 10_000)
	}
	l.came = append(l.came, time.Since(l.begun)-time.Duration(t.Plant.TimeMS())*time.Millisecond)
}

// since returns how much later than the most punctual step each other came, in ascending order.
func (l *lateness) since() []time.Duration {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	late := slices.Sorted(slices.Values(l.came))
	earliest := late[0]
	for i := range late {
		late[i] -= earliest
	}
	return late
}
