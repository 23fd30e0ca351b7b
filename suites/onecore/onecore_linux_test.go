package onecore_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/onecore"
)

func TestOneCore(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "onecore")
}

// cores is what the system says of where a thread may run; the source is proc(5), Cpus_allowed_list.
func cores(status string) string {
	GinkgoHelper()
	text, err := os.ReadFile(status)
	Expect(err).NotTo(HaveOccurred())
	_, rest, found := strings.Cut(string(text), "Cpus_allowed_list:\t")
	Expect(found).To(BeTrue())
	list, _, _ := strings.Cut(rest, "\n")
	return list
}

func ofAllThreads() (list []string) {
	GinkgoHelper()
	all, err := filepath.Glob("/proc/self/task/*/status")
	Expect(err).NotTo(HaveOccurred())
	for _, status := range all {
		list = append(list, cores(status))
	}
	return list
}

var _ = Describe("a process that is kept to one core", Serial, func() {
	It("has all its threads there, and what it starts, until it is released", func() {
		if runtime.NumCPU() < 2 {
			Skip("this machine has one core only")
		}
		before, threads := cores("/proc/self/status"), runtime.GOMAXPROCS(0)
		release := onecore.Keep(onecore.Here())
		DeferCleanup(release)
		one := cores("/proc/self/status")
		Expect(one).To(MatchRegexp(`^\d+$`))
		Expect(ofAllThreads()).To(HaveEach(one))
		Expect(runtime.GOMAXPROCS(0)).To(Equal(1))
		out, err := exec.Command("cat", "/proc/self/status").Output()
		Expect(err).NotTo(HaveOccurred())
		Expect(string(out)).To(ContainSubstring("Cpus_allowed_list:\t" + one + "\n"))

		release()
		Expect(ofAllThreads()).To(HaveEach(before))
		Expect(runtime.GOMAXPROCS(0)).To(Equal(threads))
	})

	It("takes the next core for the next place, round and round", func() {
		if runtime.NumCPU() < 2 {
			Skip("this machine has one core only")
		}
		at := func(place int) string {
			release := onecore.Keep(place)
			defer release()
			return cores("/proc/self/status")
		}
		first := at(0)
		Expect(at(1)).NotTo(Equal(first))
		Expect(at(runtime.NumCPU())).To(Equal(first))
	})

	It("has the scheduler's monitor stand back after a while", func() {
		// proc(5): of stat, behind the name in parentheses, the seventeenth is the nice value.
		nices := func() (list []string) {
			all, err := filepath.Glob("/proc/self/task/*/stat")
			Expect(err).NotTo(HaveOccurred())
			for _, stat := range all {
				text, err := os.ReadFile(stat)
				Expect(err).NotTo(HaveOccurred())
				_, rest, _ := strings.Cut(string(text), ") ")
				list = append(list, strings.Fields(rest)[16])
			}
			return list
		}
		own := nices()[0]
		if n, err := strconv.Atoi(own); err != nil || n >= 10 {
			Skip("these tests stand back themselves, at nice " + own)
		}
		release := onecore.Hush(time.Hour)
		Expect(nices()).To(HaveEach(own))
		release()
		Expect(nices()).To(HaveEach(own))
		release = onecore.Hush(0)
		Eventually(func() []string { return slices.DeleteFunc(nices(), func(s string) bool { return s == own }) }).Should(Equal([]string{"10"}))
		release()
		if os.Geteuid() == 0 { // others may not come forward again
			Expect(nices()).To(HaveEach(own))
		}
	})
})
