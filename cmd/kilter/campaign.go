package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"runtime"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"kilter/suites/campaign"
	"kilter/suites/queue"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// campaigning is where the runs of a campaign are played: flags that several commands share.
type campaigning struct {
	jobs  int
	queue queue.Options
}

func (c *campaigning) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.IntVar(&c.jobs, "jobs", -1, "how many runs at a time on this machine; as many as there are cores by default, and 0 leaves all to workers elsewhere")
	queueFlags(cmd, &c.queue)
}

// settle checks what was given.
func (c *campaigning) settle(cmd *cobra.Command) error {
	given := cmd.Flags().Changed("jobs")
	switch {
	case !given:
		c.jobs = runtime.GOMAXPROCS(0)
	case c.jobs < 0:
		return fmt.Errorf("--jobs %d: must be 0 or more", c.jobs)
	case c.jobs == 0 && c.queue.URL == "":
		return fmt.Errorf("--jobs 0: without --nats nobody else plays the runs; must be 1 or more")
	}
	return checkQueue(&c.queue)
}

// queueFolder is where the queue in this process keeps its streams, beside what is written.
const queueFolder = "queue"

// open connects to the queue; the one in this process keeps its streams in a folder.
func (c *campaigning) open(ctx context.Context, folder string) (*queue.Queue, error) {
	opt := c.queue
	opt.Note = tellAside
	if opt.URL == "" {
		opt.Folder = folder
	}
	return queue.Open(ctx, opt)
}

// session begins or resumes the campaign of that name. Through a server others' runs come along too, which may no more than
// with any worker.
func (c *campaigning) session(ctx context.Context, q *queue.Queue, name string, player *campaign.Player) (*campaign.Session, error) {
	player.Own = c.queue.URL == ""
	return campaign.Open(ctx, q, name, campaign.Options{Slots: c.jobs, Player: player, Note: tellAside})
}

// tellAside writes a line on standard error, where a line of progress may stand half-way.
func tellAside(text string) {
	if isTerminal(os.Stderr) {
		text = "\r\x1b[K" + text
	}
	fmt.Fprintln(os.Stderr, text)
}

// tally shows how far a campaign has come, on one line: runs done, their rate, the time left, the least and the largest
// share so far, and the workers that are there.
type tally struct {
	mutex  sync.Mutex
	line   *report.Line
	alive  func() int // nil where nobody counts
	total  int        // runs to be played
	done   int
	before int // runs that had been played before
	began  time.Time
	last   time.Time // of the last run
	worst  float64   // the least share; NaN before there is one
	best   float64
	clause string    // what the least is of
	small  time.Time // since when a case is made small, which takes runs that do not count; zero where none is
	stop   chan struct{}
	ended  sync.WaitGroup
}

// newTally begins a line for so many runs.
func newTally(total int, alive func() int) *tally {
	t := &tally{line: report.NewLine(os.Stderr, isTerminal(os.Stderr), time.Now), alive: alive, total: total, began: time.Now(),
		worst: math.NaN(), best: math.NaN(), stop: make(chan struct{})}
	t.ended.Go(func() {
		ticker := time.NewTicker(time.Second)
		defer ticker.Stop()
		for {
			select {
			case <-ticker.C:
				t.mutex.Lock()
				t.show()
				t.mutex.Unlock()
			case <-t.stop:
				return
			}
		}
	})
	return t
}

// known counts a run whose result was there already.
func (t *tally) known(r *campaign.Result) {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	t.before++
	t.count(r)
}

// see counts a run that was played.
func (t *tally) see(r *campaign.Result) {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	t.last, t.small = time.Now(), time.Time{}
	t.count(r)
	t.show()
}

func (t *tally) count(r *campaign.Result) {
	t.done++
	share, clause := r.Worst()
	if math.IsNaN(share) {
		return
	}
	if !(share >= t.worst) {
		t.worst, t.clause = share, clause
	}
	if !(share <= t.best) {
		t.best = share
	}
}

func (t *tally) show() {
	if now, due := t.line.Due(); due {
		t.line.Show(t.text(now))
	}
}

// text reads "312 of 7500 runs  6.1/s  19m40s left  2 workers  best +0.31  worst −1.00 hunting".
func (t *tally) text(now time.Time) string {
	parts := []string{fmt.Sprintf("%d of %d runs", t.done, t.total)}
	switch rate := t.rate(now); {
	case !t.small.IsZero():
		parts = append(parts, fmt.Sprintf("a case is made small, for %s so far", now.Sub(t.small).Round(time.Second)))
	case rate > 0:
		parts = append(parts, fmt.Sprintf("%.3g/s", rate))
		if t.total > t.done {
			left := time.Duration(float64(t.total-t.done) / rate * float64(time.Second)).Round(time.Second)
			parts = append(parts, left.String()+" left")
		}
	}
	if t.alive != nil {
		parts = append(parts, countedWorkers(t.alive()))
	}
	if !math.IsNaN(t.worst) {
		parts = append(parts, "best "+report.Minus(fmt.Sprintf("%+.2f", t.best)), fmt.Sprintf("worst %s %s", report.Minus(fmt.Sprintf("%+.2f", t.worst)), t.clause))
	}
	return strings.Join(parts, "  ")
}

func countedWorkers(n int) string {
	if n == 0 {
		return "no worker"
	}
	return verdict.Counted(n, "worker")
}

// rate is how many runs are played in a second; 0 before that is known.
func (t *tally) rate(now time.Time) float64 {
	if t.done == t.before {
		return 0
	}
	return float64(t.done-t.before) / now.Sub(t.began).Seconds()
}

// end takes the line away, and returns how many runs were played, and at which rate.
func (t *tally) end() (played int, perSecond float64) {
	close(t.stop)
	t.ended.Wait()
	t.mutex.Lock()
	defer t.mutex.Unlock()
	t.line.Done()
	return t.done - t.before, t.rate(t.last)
}
