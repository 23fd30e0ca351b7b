package queue_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/queue"
)

// double is a job's work in these tests.
func double(_ context.Context, body []byte) ([]byte, error) {
	if string(body) == "bad" {
		return nil, errors.New("the run failed")
	}
	return append(body, body...), nil
}

func jobs(n int) (list []queue.Job) {
	for i := range n {
		list = append(list, queue.Job{Key: fmt.Sprint("run-", i), Needs: "double", Body: []byte(fmt.Sprint(i, " "))})
	}
	return list
}

var _ = Describe("a queue in this process", func() {
	var folder string
	var ctx context.Context
	BeforeEach(func() {
		folder = GinkgoT().TempDir()
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
	})
	start := func() *queue.Queue {
		GinkgoHelper()
		q, err := queue.Open(ctx, queue.Options{Folder: folder})
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(q.Close)
		return q
	}
	// work has a worker at work until what it returns is called.
	work := func(q *queue.Queue, run func(context.Context, []byte) ([]byte, error)) (stop func()) {
		c, cancel := context.WithCancel(ctx)
		ended := make(chan error, 1)
		go func() { ended <- q.Work(c, queue.Worker{Offers: []string{"double"}, Slots: 2, Run: run}) }()
		return func() {
			GinkgoHelper()
			cancel()
			Eventually(ended).WithTimeout(10 * time.Second).Should(Receive(BeNil()))
		}
	}
	collect := func(q *queue.Queue, n int) map[string]string {
		GinkgoHelper()
		got := map[string]string{}
		Expect(q.Collect(ctx, "c", n, func(r queue.Result) bool {
			Expect(got).NotTo(HaveKey(r.Key), "a result counts once")
			got[r.Key] = string(r.Body) + r.Error
			return true
		})).To(Succeed())
		return got
	}

	It("runs each job once, and keeps its result under its key", func() {
		q := start()
		defer work(q, double)()
		defer work(q, double)()
		Expect(q.Submit(ctx, "c", jobs(500))).To(Succeed())
		got := collect(q, 500)
		Expect(got).To(HaveLen(500))
		Expect(got).To(HaveKeyWithValue("run-7", "7 7 "))
		Expect(q.Submit(ctx, "c", jobs(500))).To(Succeed())
		Expect(q.Submit(ctx, "another", jobs(3))).To(Succeed())
		Eventually(q.Done).WithArguments(ctx, "another").WithTimeout(30*time.Second).Should(Equal(3), "campaigns are apart")
		Expect(q.Done(ctx, "c")).To(Equal(500), "submitted twice, it is one")
	})

	It("goes on where it was interrupted", func() {
		q := start()
		var ran atomic.Int64
		counted := func(c context.Context, body []byte) ([]byte, error) {
			if ran.Add(1) > 40 {
				<-c.Done() // as a machine that stands still
				return nil, c.Err()
			}
			return double(c, body)
		}
		stop := work(q, counted)
		Expect(q.Submit(ctx, "c", jobs(100))).To(Succeed())
		Expect(collect(q, 40)).To(HaveLen(40))
		stop()
		Expect(q.Withdraw(ctx, "c")).To(Succeed())
		q.Close()

		q = start()
		Expect(q.Done(ctx, "c")).To(Equal(40))
		Expect(q.Submit(ctx, "c", jobs(100))).To(Succeed())
		ran.Store(-1000)
		defer work(q, counted)()
		Expect(collect(q, 100)).To(HaveLen(100))
	})

	It("makes the error of a run its result, and forgets a campaign when it is told to", func() {
		q := start()
		defer work(q, double)()
		Expect(q.Submit(ctx, "c", []queue.Job{{Key: "x", Needs: "double", Body: []byte("bad")}})).To(Succeed())
		Expect(collect(q, 1)).To(HaveKeyWithValue("x", "the run failed"))
		Expect(q.Forget(ctx, "c")).To(Succeed())
		Expect(q.Submit(ctx, "c", []queue.Job{{Key: "y", Needs: "double", Body: []byte("1")}})).To(Succeed())
		Expect(collect(q, 1)).To(Equal(map[string]string{"y": "11"}))
	})

	It("gives a worker nothing that it does not offer, and says which workers are there, and what they offer", func() {
		q := start()
		present, err := q.Watch(ctx)
		Expect(err).NotTo(HaveOccurred())
		Expect(present()).To(BeEmpty())
		defer work(q, double)()
		defer work(q, double)()
		Eventually(present).WithTimeout(5 * time.Second).Should(HaveLen(2))
		first := present()[0]
		Expect(first.Meets("double")).To(BeTrue())
		Expect(first.Meets("another controller")).To(BeFalse())
		Expect(first.Slots).To(Equal(2))
		foreign := queue.Job{Key: "f", Needs: "another controller", Body: []byte("1")}
		Expect(q.Submit(ctx, "c", append(jobs(5), foreign))).To(Succeed())
		Expect(collect(q, 5)).NotTo(HaveKey("f"))
		short, cancel := context.WithTimeout(ctx, 300*time.Millisecond)
		defer cancel()
		Expect(q.Collect(short, "c", 6, func(queue.Result) bool { return true })).To(MatchError(context.DeadlineExceeded))
	})

	It("gives what a worker hands back to another before anybody would have missed the worker", func() {
		q := start()
		begun := make(chan bool, 1)
		stop := work(q, func(c context.Context, _ []byte) ([]byte, error) {
			begun <- true
			<-c.Done()
			return nil, c.Err()
		})
		Expect(q.Submit(ctx, "c", jobs(1))).To(Succeed())
		Eventually(begun).WithTimeout(10 * time.Second).Should(Receive())
		stop()
		defer work(q, double)()
		soon, cancel := context.WithTimeout(ctx, 8*time.Second) // a worker that is silent is missed after 10 s
		defer cancel()
		Expect(q.Collect(soon, "c", 1, func(queue.Result) bool { return true })).To(Succeed())
	})

	It("plays a job again that was done and forgotten", func() {
		q := start()
		defer work(q, double)()
		for range 3 {
			Expect(q.Submit(ctx, "c", jobs(2))).To(Succeed())
			Expect(collect(q, 2)).To(HaveLen(2))
			Expect(q.Forget(ctx, "c", "run-0", "run-1")).To(Succeed())
			Expect(q.Done(ctx, "c")).To(BeZero())
		}
	})

	It("makes a job whose run panics, or whose result is too large to be sent, an error", func() {
		q := start()
		defer work(q, func(_ context.Context, body []byte) ([]byte, error) {
			if string(body) == "panic" {
				panic("at the disco")
			}
			return noise(2 << 20), nil
		})()
		Expect(q.Submit(ctx, "c", []queue.Job{{Key: "p", Needs: "double", Body: []byte("panic")}, {Key: "l", Needs: "double"}})).To(Succeed())
		Expect(collect(q, 2)).To(And(HaveKeyWithValue("p", "a fault of the bench: at the disco"),
			HaveKeyWithValue("l", ContainSubstring("takes messages of up to 1048576"))))
	})

	It("takes large bodies that pack well, and refuses those that are too large", func() {
		q := start()
		defer work(q, func(_ context.Context, body []byte) ([]byte, error) { return body, nil })()
		large := bytes.Repeat([]byte("measured: 812 W/m2\n"), 100_000)
		Expect(q.Submit(ctx, "c", []queue.Job{{Key: "l", Needs: "double", Body: large}})).To(Succeed())
		Expect(collect(q, 1)).To(HaveKeyWithValue("l", string(large)))
		Expect(q.Submit(ctx, "c", []queue.Job{{Key: "l", Needs: "double", Body: make([]byte, 5<<20)}})).To(MatchError(ContainSubstring("4194304 are the most")))
	})

	It("is at work in a folder alone", func() {
		q := start()
		_, err := queue.Open(ctx, queue.Options{Folder: folder})
		Expect(err).To(MatchError(ContainSubstring("another process is at work in the folder " + folder)))
		q.Close()
		start()
	})

	It("says what is wrong with what it is given", func() {
		_, err := queue.Open(ctx, queue.Options{})
		Expect(err).To(MatchError(ContainSubstring("needs a folder")))
		q := start()
		Expect(q.Work(ctx, queue.Worker{Slots: 0, Offers: []string{"x"}})).To(MatchError(ContainSubstring("nothing to do")))
		Expect(q.Submit(ctx, "c", []queue.Job{{Key: "a.b"}})).To(MatchError(ContainSubstring(`the key "a.b"`)))
		_, err = queue.Open(ctx, queue.Options{URL: "nats://127.0.0.1:1", Credentials: "nowhere.creds"})
		Expect(err).To(MatchError(ContainSubstring("nowhere.creds")))
		soon, cancel := context.WithTimeout(ctx, 200*time.Millisecond)
		defer cancel()
		_, err = queue.Open(soon, queue.Options{URL: "nats://127.0.0.1:1"})
		Expect(err).To(MatchError(ContainSubstring("nats://127.0.0.1:1: nats: no servers available")))
	})
})
