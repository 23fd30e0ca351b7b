package main

import (
	"math"
	"testing"
	"time"
)

// A rate is told while runs count, and none of it while a case is made small, which takes other runs.
func TestTally(t *testing.T) {
	began := time.Date(2026, 1, 20, 5, 0, 0, 0, time.UTC)
	line := tally{total: 120, done: 20, began: began, worst: -7.9, best: 0.84, clause: "import"}
	now := began.Add(10 * time.Second)
	if got, want := line.text(now), "20 of 120 runs  2/s  50s left  best +0.84  worst −7.90 import"; got != want {
		t.Errorf("found %q, want %q", got, want)
	}
	line.small, line.worst = now, math.NaN()
	if got, want := line.text(now.Add(12*time.Second)), "20 of 120 runs  a case is made small, for 12s so far"; got != want {
		t.Errorf("found %q, want %q", got, want)
	}
}
