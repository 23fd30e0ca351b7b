package campaign_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"syscall"
	"testing"
	"time"

	"kilter/scenarios"
	"kilter/suites/campaign"
)

// cpu is the processor time that this process and its controllers have used.
func cpu(b *testing.B) (sum time.Duration) {
	b.Helper()
	for _, who := range []int{syscall.RUSAGE_SELF, syscall.RUSAGE_CHILDREN} {
		var u syscall.Rusage
		if err := syscall.Getrusage(who, &u); err != nil {
			b.Fatal(err)
		}
		sum += time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	return sum
}

// BenchmarkRun is what runs cost, and the bytes of a run and of its result before they are packed.
func BenchmarkRun(b *testing.B) {
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	p := &campaign.Player{Self: []string{self}, Own: true}
	for _, c := range []struct {
		story, policy string
		changes       []scenarios.Change
	}{
		{"calm-start", "none", nil},
		{"calm-start", "steady", nil},
		{"cloud-flicker", "steady", nil},
		{"ev-start", "steady", nil},
		{"calm-start", "none", []scenarios.Change{{Path: "lasts", Value: "1 h"}}},
		{"calm-start", "steady", []scenarios.Change{{Path: "lasts", Value: "1 h"}}},
	} {
		b.Run(fmt.Sprint(c.story, " ", c.policy, " ", c.changes), func(b *testing.B) {
			sc, err := scenarios.Builtin(c.story)
			if err != nil {
				b.Fatal(err)
			}
			form, err := scenarios.NewForm(sc)
			if err != nil {
				b.Fatal(err)
			}
			text, err := form.Text(c.changes...)
			if err != nil {
				b.Fatal(err)
			}
			run := campaign.Run{Name: c.story, Scenario: string(text), Controller: campaign.Controller{Policy: c.policy}}
			body, err := json.Marshal(&run)
			if err != nil {
				b.Fatal(err)
			}
			var result []byte
			used := cpu(b)
			for b.Loop() {
				if result, err = p.Work(context.Background(), body); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64((cpu(b)-used).Microseconds())/1000/float64(b.N), "cpu-ms/run")
			b.ReportMetric(float64(len(body)), "B/run")
			b.ReportMetric(float64(len(result)), "B/result")
		})
	}
}
