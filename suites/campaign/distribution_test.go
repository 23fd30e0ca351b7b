package campaign_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"strconv"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/campaign"
	"kilter/suites/queue"
)

// natsd is this test binary as a NATS server: its streams' folder, and where it listens.
func natsd(folder, host, port string) {
	n, err := strconv.Atoi(port)
	if err != nil {
		panic(err)
	}
	s, err := server.NewServer(&server.Options{Host: host, Port: n, JetStream: true, StoreDir: folder, NoSigs: true, NoLog: true,
		JetStreamMaxMemory: 256 << 20, JetStreamMaxStore: 8 << 30})
	if err != nil {
		panic(err)
	}
	s.Start()
	if !s.ReadyForConnections(20 * time.Second) {
		panic("the server does not start")
	}
	fmt.Println("ready")
	s.WaitForShutdown()
}

// joiner is this test binary as a worker.
func joiner(url string) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	self, err := os.Executable()
	if err != nil {
		panic(err)
	}
	q, err := queue.Open(ctx, queue.Options{URL: url, Wait: true, Note: func(text string) { fmt.Fprintln(os.Stderr, text) }})
	if err != nil {
		panic(err)
	}
	defer q.Close()
	player := &campaign.Player{Self: []string{self}}
	processes := campaign.NewProcesses(player, 2)
	defer processes.Close()
	if err := q.Work(ctx, queue.Worker{Offers: player.Offers(), Slots: 2, Run: processes.Work}); err != nil {
		panic(err)
	}
}

// minute is a story that is cheap enough to be played thousands of times.
const minute = `format: 1
scenario: A minute for many runs
site: bakery
starts: 2026-01-20 05:00
zone: Europe/Oslo
lasts: 1 min
seed: %d
commands: [north, south]
happens:
  - {at: 10 s, mixer: {switch: on}, text: the mixer starts}
must:
  import: {below: 1 kW, except: 30 s}
  hunting: {below: 150 W, gone_within: 30 s}
  circulating: {below: 120 W, except: 10 s}
`

// minutes are runs of it, each by a seed of its own; each fortieth with a controller that is a process.
func minutes(n int) (list []campaign.Run) {
	for i := range n {
		c := campaign.Controller{Policy: "none"}
		if i%40 == 7 {
			c.Policy = "steady"
		}
		list = append(list, campaign.Run{Name: "minute", Scenario: fmt.Sprintf(minute, i), Controller: c})
	}
	return list
}

// field is a NATS server and its workers, each a process.
type field struct {
	folder, host, port, url string
	in                      func(place int) []string // the words before a command; a worker's place, or -1 for the server
	server                  *exec.Cmd
	workers                 []*exec.Cmd
	killed                  int
}

// child starts this test binary as something else.
func (f *field) child(place int, args ...string) (*exec.Cmd, io.Reader) {
	GinkgoHelper()
	self, err := os.Executable()
	Expect(err).NotTo(HaveOccurred())
	words := append(f.in(place), append([]string{self}, args...)...)
	cmd := exec.Command(words[0], words[1:]...)
	cmd.Stderr = GinkgoWriter
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // what the words before it have begun dies with it
	out, err := cmd.StdoutPipe()
	Expect(err).NotTo(HaveOccurred())
	Expect(cmd.Start()).To(Succeed())
	return cmd, out
}

func kill(cmd *exec.Cmd) {
	_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
	_ = cmd.Wait()
}

func (f *field) serve() {
	GinkgoHelper()
	cmd, out := f.child(-1, "natsd", f.folder, f.host, f.port)
	f.server = cmd
	line, err := bufio.NewReader(out).ReadString('\n')
	Expect(err).NotTo(HaveOccurred(), "the server says that it is ready")
	Expect(line).To(Equal("ready\n"))
}

func (f *field) join(place int) {
	GinkgoHelper()
	f.workers[place], _ = f.child(place, "joiner", f.url)
}

// newField starts a server and workers. In gives the words that run something in a place of its own, if not nil.
func newField(host string, workers int, in func(place int) []string) *field {
	GinkgoHelper()
	if in == nil {
		in = func(int) []string { return nil }
	}
	f := &field{folder: GinkgoT().TempDir(), host: host, port: freePort(), in: in, workers: make([]*exec.Cmd, workers)}
	f.url = "nats://" + net.JoinHostPort(f.host, f.port)
	f.serve()
	for place := range f.workers {
		f.join(place)
	}
	DeferCleanup(func() {
		for _, w := range f.workers {
			kill(w)
		}
		kill(f.server)
	})
	return f
}

// freePort is one that nobody listened on a moment ago: the server must come back to the same.
func freePort() string {
	GinkgoHelper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	Expect(err).NotTo(HaveOccurred())
	defer l.Close()
	_, port, err := net.SplitHostPort(l.Addr().String())
	Expect(err).NotTo(HaveOccurred())
	return port
}

// plays has runs played by the workers while other things happen to them, in two parts, and holds what came out to what this
// process plays.
func (f *field) plays(ctx context.Context, runs, more []campaign.Run, happens func(done int), between func(*campaign.Session)) {
	GinkgoHelper()
	q, err := queue.Open(ctx, queue.Options{URL: f.url, Note: func(text string) { fmt.Fprintln(GinkgoWriter, "session:", text) }})
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(q.Close)
	s, err := campaign.Open(ctx, q, "distribution", campaign.Options{Note: func(text string) { fmt.Fprintln(GinkgoWriter, text) }})
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(s.Close)
	played := "distribution by " + campaign.Build()
	counted := make([]int, len(runs)+len(more))
	done := 0
	began := time.Now()
	do := func(runs []campaign.Run) []*campaign.Result {
		GinkgoHelper()
		from := done
		results, err := s.Do(ctx, runs, func(i int, _ *campaign.Result) {
			counted[from+i]++
			if done++; done%100 == 0 {
				fmt.Fprintf(GinkgoWriter, "%d of %d runs after %v\n", done, len(counted), time.Since(began).Round(time.Second))
			}
			happens(done)
		})
		Expect(err).NotTo(HaveOccurred())
		return results
	}
	results := do(runs)
	between(s)
	results = append(results, do(more)...)
	runs = append(runs, more...)
	Expect(counted).To(HaveEach(1), "each run counts exactly once")
	Expect(s.Done()).To(Equal(len(runs)))
	Expect(q.Done(ctx, played)).To(Equal(len(runs)))

	fmt.Fprintln(GinkgoWriter, "all have come; what is stored is read after", time.Since(began).Round(time.Second))
	stored := map[string][]byte{}
	Expect(q.Collect(ctx, played, len(runs), func(r queue.Result) bool {
		Expect(stored).NotTo(HaveKey(r.Key))
		Expect(r.Error).To(BeEmpty())
		stored[r.Key] = r.Body
		return true
	})).To(Succeed())
	fmt.Fprintln(GinkgoWriter, "the same runs in this process alone, after", time.Since(began).Round(time.Second))
	alone := byItself(ctx, runs)
	fmt.Fprintln(GinkgoWriter, "played after", time.Since(began).Round(time.Second))
	for i := range runs {
		key, err := runs[i].Key()
		Expect(err).NotTo(HaveOccurred())
		Expect(string(stored[key])).To(Equal(string(alone[i])), "run %d is what one process alone plays, byte for byte", i)
		text, err := json.Marshal(results[i])
		Expect(err).NotTo(HaveOccurred())
		Expect(text).To(MatchJSON(alone[i]))
	}
}

// byItself plays runs in this process, without a queue.
func byItself(ctx context.Context, runs []campaign.Run) [][]byte {
	GinkgoHelper()
	alone := make([][]byte, len(runs))
	errs := make([]error, len(runs))
	p := player()
	var all sync.WaitGroup
	next := make(chan int)
	for range 4 {
		all.Go(func() {
			for i := range next {
				body, err := json.Marshal(&runs[i])
				if err == nil {
					alone[i], err = p.Work(ctx, body)
				}
				errs[i] = err
			}
		})
	}
	for i := range runs {
		next <- i
	}
	close(next)
	all.Wait()
	Expect(errs).To(HaveEach(BeNil()))
	return alone
}

var _ = Describe("a campaign over many processes", func() {
	var ctx context.Context
	BeforeEach(func() {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(context.Background(), 10*time.Minute)
		DeferCleanup(cancel)
	})

	It("counts each run exactly once and the same, while workers are killed and the server is killed", func() {
		n := 2000
		if testing.Short() {
			n = 200
		}
		f := newField("127.0.0.1", 4, nil)
		chance := rand.New(rand.NewPCG(20, 26))
		nextDeath := n / 40
		f.plays(ctx, minutes(n), nil, func(done int) {
			if done == n/2 {
				fmt.Fprintln(GinkgoWriter, "the server is killed, and starts again")
				kill(f.server)
				f.serve()
			}
			if done < nextDeath || done > n-n/20 {
				return
			}
			nextDeath = done + 1 + chance.IntN(n/10)
			place := chance.IntN(len(f.workers))
			fmt.Fprintf(GinkgoWriter, "worker %d is killed, and another takes its place\n", place)
			kill(f.workers[place])
			f.join(place)
			f.killed++
		}, func(*campaign.Session) {})
		Expect(f.killed).To(BeNumerically(">=", 8))
	})
})
