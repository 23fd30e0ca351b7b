package campaign_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"sync"
	"testing"

	"kilter/scenarios"
	"kilter/suites/campaign"
	"kilter/suites/onecore"
	"kilter/suites/queue"
)

// The benchmarks play the same runs: through a queue with two slots, and in two processes that know nothing of a queue, left to run on
// any core or kept to one each, as the slots are. What the queue costs is the ratio of its figure to the latter's.

const atOnce = 2

// speedRuns are different runs of some stories with the reference controller.
func speedRuns(n int) ([]campaign.Run, error) {
	var texts []string
	stories := []string{"ev-start", "left-alone", "solar-surge"}
	for _, name := range stories {
		sc, err := scenarios.Builtin(name)
		if err != nil {
			return nil, err
		}
		text, err := sc.Resolve()
		if err != nil {
			return nil, err
		}
		texts = append(texts, string(text))
	}
	runs := make([]campaign.Run, n)
	for i := range runs {
		k := i % len(texts)
		runs[i] = campaign.Run{Name: stories[k], Scenario: texts[k], Controller: campaign.Controller{
			Policy: "steady --hold {hold}", Settings: []campaign.Setting{{Name: "hold", Value: fmt.Sprintf("%dms", 60_000+i)}},
		}}
	}
	return runs, nil
}

// measured runs what is to be measured, and tells runs a second and the processor time of a run, its controller's included. On a
// machine that others use only the latter compares.
func measured(b *testing.B, do func()) {
	before := cpu(b)
	b.ResetTimer()
	do()
	b.StopTimer()
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "runs/s")
	b.ReportMetric(float64((cpu(b)-before).Microseconds())/1000/float64(b.N), "cpu-ms/run")
}

func BenchmarkRunsThroughAQueue(b *testing.B) {
	self, err := os.Executable()
	must(b, err)
	q, err := queue.Open(b.Context(), queue.Options{Folder: b.TempDir()})
	must(b, err)
	defer q.Close()
	s, err := campaign.Open(b.Context(), q, "speed", campaign.Options{Slots: atOnce, Player: &campaign.Player{Self: []string{self}}})
	must(b, err)
	runs, err := speedRuns(b.N)
	must(b, err)
	measured(b, func() {
		_, err := s.Do(b.Context(), runs, nil)
		s.Close() // with its processes: the time of one that still runs is not known
		must(b, err)
	})
}

func BenchmarkRunsInProcesses(b *testing.B) {
	self, err := os.Executable()
	must(b, err)
	for _, cores := range []string{"any", "one"} {
		b.Run(cores+" core", func(b *testing.B) {
			measured(b, func() {
				var all sync.WaitGroup
				for k := range atOnce {
					all.Go(func() {
						out, err := exec.Command(self, "alone", cores, strconv.Itoa(b.N), strconv.Itoa(k)).CombinedOutput()
						if err != nil {
							b.Errorf("%v: %s", err, out)
						}
					})
				}
				all.Wait()
			})
		})
	}
}

// alone plays one process's part of n runs.
func alone(cores string, words []string) error {
	n, err := strconv.Atoi(words[0])
	if err != nil {
		return err
	}
	k, err := strconv.Atoi(words[1])
	if err != nil {
		return err
	}
	runs, err := speedRuns(n)
	if err != nil {
		return err
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	if cores == "one" {
		onecore.Keep(k)
	}
	p := campaign.Player{Self: []string{self}}
	for i := k; i < n; i += atOnce {
		if _, err := p.Play(context.Background(), &runs[i]); err != nil {
			return err
		}
	}
	return nil
}

func must(b *testing.B, err error) {
	b.Helper()
	if err != nil {
		b.Fatal(err)
	}
}
