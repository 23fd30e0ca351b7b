package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"kilter/suites/report"
)

// board shows how far the runs of a check have come together, on one line.
type board struct {
	mutex    sync.Mutex
	progress *report.Progress
	began    int
	runs     int
	passedS  float64 // simulated seconds of all runs
}

func newBoard(w io.Writer, list []input) *board {
	total := 0.0
	for _, in := range list {
		total += in.scenario.Lasts.Seconds()
	}
	return &board{runs: len(list), progress: report.NewProgress(w, isTerminal(os.Stderr), time.Now, "", total)}
}

// begin puts a run on the board. at tells how far it has come, and done that it has ended.
func (b *board) begin(in input) (at func(time.Duration), done func()) {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	b.began++
	b.progress.Label(fmt.Sprintf("%d/%d %s", b.began, b.runs, in.scenario.Name))
	came := 0.0
	at = func(now time.Duration) {
		b.mutex.Lock()
		defer b.mutex.Unlock()
		b.passedS += now.Seconds() - came
		came = now.Seconds()
		b.progress.At(b.passedS)
	}
	return at, func() { at(in.scenario.Lasts) }
}

func (b *board) end() {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	b.progress.Done()
}
