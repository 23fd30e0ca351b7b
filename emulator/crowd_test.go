package emulator_test

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
)

// crowdVariable tells a second process of this test, as JSON, whom its hostile clients go to.
const crowdVariable = "KILTER_TEST_CROWD"

// TestMain lets the test's own binary be the hostile clients' process.
func TestMain(m *testing.M) {
	if task := os.Getenv(crowdVariable); task != "" {
		if err := bePartOf(task); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

type crowdTask struct {
	Addresses []string
	Clients   int
}

// crowdTally is what a hostility counted, by manner.
type crowdTally struct {
	Opened, CutOff [len(manners)]int64
}

// bePartOf has the hostile clients come, says so by a line, and sends them away when standard input ends; their tally is
// the last thing written.
func bePartOf(task string) error {
	var t crowdTask
	if err := json.Unmarshal([]byte(task), &t); err != nil {
		return err
	}
	var h hostility
	disperse := h.gather(t.Addresses, t.Clients)
	fmt.Println("all are here")
	if _, err := io.Copy(io.Discard, os.Stdin); err != nil {
		return err
	}
	disperse()
	var tally crowdTally
	for kind := range manners {
		tally.Opened[kind], tally.CutOff[kind] = h.opened[kind].Load(), h.cutOff[kind].Load()
	}
	return json.NewEncoder(os.Stdout).Encode(tally)
}

// crowd is hostile clients in a process of their own, as a bench's clients are: what they do with their time
// is then not taken for what they cost the bench.
type crowd struct {
	process *exec.Cmd
	stdin   io.WriteCloser
	answers *json.Decoder
}

// gatherApart has n hostile clients of another process come to the bench's devices, and waits until they are there.
func gatherApart(b *emulator.Bench, n int) *crowd {
	GinkgoHelper()
	task, err := json.Marshal(crowdTask{addresses(b), n})
	Expect(err).NotTo(HaveOccurred())
	self, err := os.Executable()
	Expect(err).NotTo(HaveOccurred())
	c := &crowd{process: exec.Command(self)}
	c.process.Env = append(os.Environ(), crowdVariable+"="+string(task))
	c.process.Stderr = GinkgoWriter
	c.stdin, err = c.process.StdinPipe()
	Expect(err).NotTo(HaveOccurred())
	stdout, err := c.process.StdoutPipe()
	Expect(err).NotTo(HaveOccurred())
	Expect(c.process.Start()).To(Succeed())
	var greeting [len("all are here\n")]byte
	_, err = io.ReadFull(stdout, greeting[:])
	Expect(err).NotTo(HaveOccurred())
	c.answers = json.NewDecoder(stdout)
	return c
}

// disperse sends them away, and returns what they did.
func (c *crowd) disperse() (tally crowdTally) {
	GinkgoHelper()
	Expect(c.stdin.Close()).To(Succeed())
	Expect(c.answers.Decode(&tally)).To(Succeed())
	Expect(c.process.Wait()).To(Succeed())
	return tally
}

func (t *crowdTally) add(other crowdTally) {
	for kind := range manners {
		t.Opened[kind] += other.Opened[kind]
		t.CutOff[kind] += other.CutOff[kind]
	}
}

func (t *crowdTally) show(to *table) {
	for kind := range manners {
		to.row(fmt.Sprintf("%s: connections, cut off by the server", manners[kind].name), "%d, %d", t.Opened[kind], t.CutOff[kind])
	}
}

// addresses are where the bench's devices answer.
func addresses(b *emulator.Bench) (list []string) {
	for _, d := range b.File().Devices {
		list = append(list, d.Address)
	}
	return list
}
