package queue_test

import (
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
		list = append(list, queue.Job{Key: fmt.Sprint("run ", i), Needs: "double", Body: []byte(fmt.Sprint(i, " "))})
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
		Expect(got).To(HaveKeyWithValue("run 7", "7 7 "))
		Expect(q.Submit(ctx, "c", jobs(500))).To(Succeed())
		Expect(q.Submit(ctx, "another", jobs(3))).To(Succeed())
		Eventually(q.Done).WithArguments(ctx, "another").Should(Equal(3), "campaigns are apart")
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

	It("says what is wrong with what it is given", func() {
		_, err := queue.Open(ctx, queue.Options{})
		Expect(err).To(MatchError(ContainSubstring("needs a folder")))
		Expect(start().Work(ctx, queue.Worker{Slots: 0, Offers: []string{"x"}})).To(MatchError(ContainSubstring("nothing to do")))
		soon, cancel := context.WithTimeout(ctx, 200*time.Millisecond)
		defer cancel()
		_, err = queue.Open(soon, queue.Options{URL: "nats://127.0.0.1:1"})
		Expect(err).To(MatchError(ContainSubstring("is it a NATS server with JetStream on")))
	})
})
