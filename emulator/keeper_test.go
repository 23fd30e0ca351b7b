package emulator_test

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"go.uber.org/goleak"

	"kilter/emulator"
	"kilter/scenarios"
)

// openFiles lists what this process has open, where the system tells.
func openFiles() []string {
	links, _ := filepath.Glob("/proc/self/fd/*")
	var list []string
	for _, l := range links {
		if to, err := os.Readlink(l); err == nil && !strings.HasPrefix(to, "anon_inode") {
			list = append(list, to)
		}
	}
	return list
}

var _ = Describe("a keeper of a controller's processes", func() {
	keep := func(script string, limits emulator.Limits) (*emulator.Keeper, *syncedLog) {
		GinkgoHelper()
		log := &syncedLog{}
		k := emulator.NewKeeper([]string{"sh", "-c", script}, log, limits)
		// Two are declared, so that a second copy has addresses.
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, Several: []string{"first copy", "second copy"}})
		Expect(k.Open(b)).To(Succeed())
		DeferCleanup(k.Close, time.Millisecond, time.Millisecond)
		return k, log
	}

	It("gives it the variables of its own, and the bench's beside them", func() {
		log := &syncedLog{}
		k := emulator.NewKeeper([]string{"sh", "-c", `echo gain $GAIN; test -f "$KILTER_BENCH" && echo file`}, log, emulator.Limits{}).
			Setting([]string{"GAIN=0.4", emulator.BenchVariable + "=elsewhere"})
		Expect(k.Open(open(story("calm-start"), emulator.Options{Pace: emulator.Stepped}))).To(Succeed())
		DeferCleanup(k.Close, time.Millisecond, time.Millisecond)
		Eventually(log.String, soon).Should(And(ContainSubstring("gain 0.4"), ContainSubstring("file")))
	})

	It("pauses and continues the controller with all that it has started", func() {
		k, log := keep(`(while :; do echo child; sleep 0.01; done) & while :; do echo parent; sleep 0.01; done`, emulator.Limits{})
		Eventually(log.String, soon).Should(And(ContainSubstring("child"), ContainSubstring("parent")))
		Expect(k.Do(scenarios.Pause)).To(Succeed())
		time.Sleep(20 * time.Millisecond) // what is in the pipe
		k.Collect()
		before := log.String()
		Consistently(log.String, 100*time.Millisecond).Should(Equal(before))
		Expect(k.Do(scenarios.Continue)).To(Succeed())
		Eventually(log.String, soon).ShouldNot(Equal(before))
	})

	It("kills it at once, says nothing of that, and starts it again", func() {
		k, log := keep(`trap 'echo asked' TERM; echo up $KILTER_BENCH; sleep 600`, emulator.Limits{})
		Eventually(log.String, soon).Should(ContainSubstring("bench.json\n"))
		Expect(k.Do(scenarios.Kill)).To(Succeed())
		Expect(k.Do(scenarios.Start)).To(Succeed())
		Eventually(func() int { return strings.Count(log.String(), "up ") }, soon).Should(Equal(2))
		Expect(log.String()).NotTo(ContainSubstring("asked"))
		Expect(k.Gone()).NotTo(Receive())
	})

	It("marks what a second copy prints, and ends it alone", func() {
		k, log := keep(`echo up; sleep 600`, emulator.Limits{})
		Expect(k.Do(scenarios.SecondCopy)).To(Succeed())
		Eventually(log.String, soon).Should(And(ContainSubstring("0:00:00.000 up\n"), ContainSubstring("0:00:00.000 (second copy) up\n")))
		Expect(k.Do(scenarios.CopyEnds)).To(Succeed())
		Consistently(k.Gone(), 50*time.Millisecond).ShouldNot(Receive())
	})

	It("ends a controller that is paused", func() {
		k, log := keep(`trap 'echo asked; exit' TERM; echo up; while :; do sleep 0.01; done`, emulator.Limits{})
		Eventually(log.String, soon).Should(ContainSubstring("up"))
		Expect(k.Do(scenarios.Pause)).To(Succeed())
		Expect(k.Close(time.Millisecond, soon)).To(Succeed())
		Expect(log.String()).To(HaveSuffix("asked\n"))
	})

	DescribeTable("stops a runaway, and says what it used",
		func(script string, limits emulator.Limits, says string) {
			if runtime.GOOS != "linux" && limits.Output == 0 {
				Skip("on this system only the output is limited")
			}
			k, _ := keep(script, limits)
			var err error
			Eventually(k.Gone(), soon).Should(Receive(&err))
			Expect(err).To(MatchError(MatchRegexp(says)))
		},
		Entry("of processor time", `while :; do :; done`, emulator.Limits{CPU: 100 * time.Millisecond}, `^it had used processor time of .*, and may 100ms$`),
		Entry("of memory", `head -c 200000000 /dev/zero | tail -c 150000000 | sleep 600`, emulator.Limits{Memory: 100 << 20}, `^it took memory of 1\d\d(\.\d)? MiB, and may 100 MiB$`),
		Entry("of output", `yes`, emulator.Limits{Output: 1 << 20}, `^it had printed [\d.e+]+ MiB, and may 1 MiB$`),
	)

	It("says how a controller ended by itself, after all that it printed", func() {
		k, log := keep(`echo bye; exit 3`, emulator.Limits{})
		var err error
		Eventually(k.Gone(), soon).Should(Receive(&err))
		var exit *exec.ExitError
		Expect(errors.As(err, &exit)).To(BeTrue())
		Expect(exit.ExitCode()).To(Equal(3))
		Expect(log.String()).To(Equal("0:00:00.000 bye\n"))
	})

	It("leaves no process, port, terminal or file behind after two hundred starts and kills", func() {
		folder := GinkgoT().TempDir()
		GinkgoT().Setenv("TMPDIR", folder)
		sc := story("calm-start")
		if runtime.GOOS == "linux" {
			for i, d := range sc.Site.Devices {
				if d.Name == "south" {
					wire := *d.Wire
					wire.Link, wire.Shared = scenarios.RTULine, d.Name
					sc.Site.Devices[i].Wire = &wire
				}
			}
		}
		routines, files := goleak.IgnoreCurrent(), openFiles()
		var groups []int
		for range 100 {
			b, err := emulator.New(sc, emulator.Options{Pace: emulator.Stepped})
			Expect(err).NotTo(HaveOccurred())
			log := &syncedLog{}
			k := emulator.NewKeeper([]string{"sh", "-c", `sleep 600 & echo group $$; wait`}, log, emulator.Limits{})
			Expect(k.Open(b)).To(Succeed())
			Eventually(log.String, soon).Should(HaveSuffix("\n"))
			Expect(k.Do(scenarios.Kill)).To(Succeed())
			Expect(k.Do(scenarios.Start)).To(Succeed())
			Expect(b.Close()).To(Succeed())
			Expect(k.Close(0, 0)).To(Succeed())
			for _, m := range regexp.MustCompile(`group (\d+)`).FindAllStringSubmatch(log.String(), -1) {
				g, err := strconv.Atoi(m[1])
				Expect(err).NotTo(HaveOccurred())
				groups = append(groups, g)
			}
		}
		Expect(goleak.Find(routines)).To(Succeed())
		Expect(openFiles()).To(ConsistOf(files))
		Expect(os.ReadDir(folder)).To(BeEmpty())
		for _, g := range groups {
			// What was killed is gone once the system has cleared it away.
			Eventually(syscall.Kill, soon).WithArguments(-g, syscall.Signal(0)).Should(MatchError(syscall.ESRCH), "a process of group %d is left", g)
		}
	})
})
