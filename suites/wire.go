package suites

import (
	"fmt"
	"strings"
	"time"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites/verdict"
)

// wire sums up what went over the wire in so much simulated time.
func wire(sc *scenarios.Scenario, writes []emulator.Write, t emulator.Traffic, lasted time.Duration) *verdict.Wire {
	w := &verdict.Wire{Reads: t.Reads, Writes: t.Writes, Exceptions: t.Exceptions, Waits: t.Waits}
	if t.Waits > 0 {
		w.LongestWaitS = verdict.Seconds(float64(t.LongestWaitMS) / 1000)
	}
	for _, tally := range []struct {
		outcome emulator.Outcome
		count   *int
	}{{emulator.Refused, &w.Refused}, {emulator.NotInForce, &w.NotInForce}, {emulator.Unanswered, &w.Unanswered}} {
		var first emulator.Write
		for _, x := range writes {
			if x.Outcome != tally.outcome {
				continue
			}
			if *tally.count++; *tally.count == 1 {
				first = x
			}
		}
		if n := *tally.count; n > 0 {
			why := first.Detail
			if tally.outcome == emulator.Refused {
				why, _, _ = strings.Cut(why, ":") // the exception; the rest is in writes.csv
			}
			w.Notes = append(w.Notes, fmt.Sprintf("%s %s, first at %s: %s register %d, %s",
				verdict.Counted(n, "write"), tally.outcome, verdict.Moment(float64(first.Tick)*sc.Step.Seconds()),
				first.Device, first.Register, why))
		}
	}
	for _, d := range t.Devices {
		w.Devices = append(w.Devices, wireDevice(d, lasted))
		if d.RefusedReads > 0 {
			r := d.RefusedRead
			w.Notes = append(w.Notes, fmt.Sprintf("%s of %s refused, first at %s: function %d, register %d, %s",
				verdict.Counted(d.RefusedReads, "read"), d.Device, verdict.Moment(r.At.Seconds()), r.Function, r.Register, r.Exception))
		}
	}
	if t.RefusedWaits > 0 {
		w.Notes = append(w.Notes, fmt.Sprintf("%s refused: %s", verdict.Counted(t.RefusedWaits, "wait"), t.RefusedWait))
	}
	return w
}

// wireController sums up the traffic of one controller; with each device where there are several controllers.
func wireController(name string, t emulator.Traffic, several bool, lasted time.Duration) verdict.WireController {
	w := verdict.WireController{Controller: name, Polls: t.Polls, Reads: t.Reads, Writes: t.Writes, Exceptions: t.Exceptions, Waits: t.Waits}
	if lasted > 0 {
		w.PollsPerHour = verdict.Of(float64(t.Polls) / lasted.Hours())
	}
	for _, d := range t.Devices {
		w.Unanswered += d.Unanswered
		w.Retries += d.Retries
		asked := wireDevice(d, lasted)
		if gap, known := asked.SmallestGapS.Value(); known {
			if least, has := w.SmallestGapS.Value(); !has || gap < least {
				w.SmallestGapS = asked.SmallestGapS
			}
		}
		if several {
			w.Devices = append(w.Devices, asked)
		}
	}
	return w
}

func wireDevice(d emulator.DeviceTraffic, lasted time.Duration) verdict.WireDevice {
	w := verdict.WireDevice{
		Device: d.Device, Reads: d.Reads, Writes: d.Writes, Exceptions: d.Exceptions, Unanswered: d.Unanswered, Retries: d.Retries,
	}
	if lasted > 0 {
		w.PerHour = verdict.Of(float64(d.Requests) / lasted.Hours())
	}
	if d.Requests > 1 {
		w.SmallestGapS = verdict.Seconds(d.SmallestGap.Seconds())
	}
	return w
}
