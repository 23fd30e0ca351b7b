package emulator_test

import (
	"bytes"
	"strings"
	"sync"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
)

var _ = Describe("stopping a controller", func() {
	// stop starts a shell script, stops it as soon as it has said that it is up, and returns what it wrote.
	stop := func(script string, leave, obey time.Duration) string {
		GinkgoHelper()
		log := &syncedLog{}
		p, err := emulator.StartProcess(emulator.Launch{
			Words: []string{"sh", "-c", script}, File: "bench.json", Output: log, Now: func() time.Duration { return 90 * time.Second },
		})
		Expect(err).NotTo(HaveOccurred())
		Eventually(log.String, soon).Should(ContainSubstring("up\n"))
		p.Stop(leave, obey)
		return strings.ReplaceAll(log.String(), "0:01:30.000 ", "")
	}

	It("lets one that leaves by itself finish what it is doing, without a signal", func() {
		Expect(stop(`trap 'echo signal' TERM; echo up; sleep 0.1; echo tidied`, soon, soon)).To(Equal("up\ntidied\n"))
	})

	It("asks one that stays with a signal", func() {
		Expect(stop(`trap 'echo asked; exit 0' TERM; echo up; while :; do sleep 0.02; done`, time.Millisecond, soon)).
			To(And(HavePrefix("up\n"), HaveSuffix("asked\n")))
	})

	It("kills one that does not listen, with what it has started", func() {
		Expect(stop(`trap '' TERM; echo up; sleep 600; echo never`, time.Millisecond, 20*time.Millisecond)).To(Equal("up\n"))
	})
})

// syncedLog may be read while a process writes.
type syncedLog struct {
	mutex sync.Mutex
	text  bytes.Buffer
}

func (l *syncedLog) Write(p []byte) (int, error) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.Write(p)
}

func (l *syncedLog) String() string {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.String()
}
