package queue_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net"
	"sync"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/queue"
)

// serve runs a server with a port of its own, or that one again.
func serve(folder string, port int, room int64) *server.Server {
	GinkgoHelper()
	s, err := server.NewServer(&server.Options{
		Host: "127.0.0.1", Port: port, JetStream: true, StoreDir: folder, NoSigs: true, NoLog: true, JetStreamMaxStore: room, JetStreamMaxMemory: 64 << 20,
	})
	Expect(err).NotTo(HaveOccurred())
	s.Start()
	Expect(s.ReadyForConnections(10 * time.Second)).To(BeTrue())
	DeferCleanup(s.Shutdown)
	return s
}

// noise is bytes that no packing makes smaller.
func noise(n int) []byte {
	GinkgoHelper()
	list := make([]byte, n)
	_, err := rand.NewChaCha8([32]byte{}).Read(list)
	Expect(err).NotTo(HaveOccurred())
	return list
}

var _ = Describe("a queue elsewhere", func() {
	var ctx context.Context
	var mutex sync.Mutex
	var notes []string
	told := func() string {
		mutex.Lock()
		defer mutex.Unlock()
		return fmt.Sprint(notes)
	}
	open := func(s *server.Server) *queue.Queue {
		GinkgoHelper()
		q, err := queue.Open(ctx, queue.Options{URL: s.ClientURL(), Note: func(text string) {
			mutex.Lock()
			defer mutex.Unlock()
			notes = append(notes, text)
		}})
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(q.Close)
		return q
	}
	BeforeEach(func() {
		mutex.Lock() // a queue of the spec before may still tell of its end
		notes = nil
		mutex.Unlock()
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(context.Background(), 2*time.Minute)
		DeferCleanup(cancel)
	})
	work := func(q *queue.Queue, run func(context.Context, []byte) ([]byte, error)) {
		c, cancel := context.WithCancel(ctx)
		var ended sync.WaitGroup
		ended.Go(func() { _ = q.Work(c, queue.Worker{Offers: []string{"double"}, Slots: 2, Run: run}) })
		DeferCleanup(func() { cancel(); ended.Wait() })
	}

	It("goes on when the server comes back", func() {
		folder := GinkgoT().TempDir()
		s := serve(folder, server.RANDOM_PORT, 1<<30)
		port := s.Addr().(*net.TCPAddr).Port
		q := open(s)
		work(open(s), double)
		came := map[string]int{}
		more := make(chan int, 100)
		collected := make(chan error, 1)
		go func() {
			collected <- q.Collect(ctx, "c", 60, func(r queue.Result) bool {
				came[r.Key]++
				more <- len(came)
				return true
			})
		}()
		Expect(q.Submit(ctx, "c", jobs(30))).To(Succeed())
		for range 30 {
			Eventually(more).WithTimeout(time.Minute).Should(Receive())
		}
		s.Shutdown()
		s.WaitForShutdown()
		submitted := make(chan error, 1)
		go func() { submitted <- q.Submit(ctx, "c", jobs(60)[30:]) }()
		serve(folder, port, 1<<30)
		Eventually(submitted).WithTimeout(time.Minute).Should(Receive(BeNil()))
		Eventually(collected).WithTimeout(time.Minute).Should(Receive(BeNil()))
		Expect(came).To(HaveLen(60))
		for key, n := range came {
			Expect(n).To(Equal(1), key)
		}
		Expect(told()).To(And(ContainSubstring("the connection to the server is lost"), ContainSubstring("connected to the server again")))
	})

	It("makes anything that is sent for a job an error result, and lives on", func() {
		s := serve(GinkgoT().TempDir(), server.RANDOM_PORT, 1<<30)
		q := open(s)
		work(q, double)
		Expect(q.Submit(ctx, "c", jobs(1))).To(Succeed())
		Eventually(q.Done).WithArguments(ctx, "c").WithTimeout(10 * time.Second).Should(Equal(1))
		peer, err := nats.Connect(s.ClientURL())
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(peer.Close)
		// The subjects are no secret.
		subjects := make(chan *nats.Msg, 10)
		_, err = peer.ChanSubscribe("kilter.work.>", subjects)
		Expect(err).NotTo(HaveOccurred())
		Expect(peer.Flush()).To(Succeed()) // the server knows of it before the job comes
		Expect(q.Submit(ctx, "c", []queue.Job{{Key: "x", Needs: "double", Body: []byte("1")}})).To(Succeed())
		var job *nats.Msg
		Eventually(subjects).WithTimeout(10 * time.Second).Should(Receive(&job))
		base := job.Subject[:len(job.Subject)-1]
		Expect(peer.Publish(base+"torn", []byte("no job at all"))).To(Succeed())
		Expect(peer.Publish(base+"none", nil)).To(Succeed())
		Expect(peer.Publish(base+"huge", make([]byte, 1<<20))).To(Succeed())
		Expect(peer.Publish("kilter.alive", []byte("{"))).To(Succeed())
		Expect(peer.Publish("kilter.work.x", []byte("{"))).To(Succeed())
		got := map[string]queue.Result{}
		Expect(q.Collect(ctx, "c", 5, func(r queue.Result) bool {
			got[r.Key] = r
			return true
		})).To(Succeed())
		Expect(got["torn"].Error).To(ContainSubstring("cannot be unpacked"))
		Expect(got["huge"].Error).To(ContainSubstring("cannot be unpacked"))
		Expect(got).To(HaveKey("none"))
		Expect(string(got["x"].Body)).To(Equal("11"))
	})

	It("says so where the server has no room, for a job at once, and for a result until there is", func() {
		s := serve(GinkgoT().TempDir(), server.RANDOM_PORT, 1<<20)
		q := open(s)
		var list []queue.Job
		for i := range 60 {
			list = append(list, queue.Job{Key: fmt.Sprint("k", i), Needs: "double", Body: noise(100_000)})
		}
		Expect(q.Submit(ctx, "c", list)).To(MatchError(ContainSubstring("the server does not take")))
		Expect(q.Withdraw(ctx, "c")).To(Succeed())
		work(q, func(context.Context, []byte) ([]byte, error) { return noise(400_000), nil })
		Expect(q.Submit(ctx, "c", jobs(4))).To(Succeed())
		Eventually(told).WithTimeout(30 * time.Second).Should(ContainSubstring("a result that cannot be stored"))
		Expect(q.Forget(ctx, "c")).To(Succeed())
		Eventually(q.Done).WithArguments(ctx, "c").WithTimeout(30 * time.Second).Should(BeNumerically(">", 0))
	})
})
