package suites

import (
	"strings"

	"kilter/emulator/trace"
	"kilter/scenarios"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// spans turns a column of states into the spans that it was in each.
func spans(c *trace.Column, stepS float64) report.StateLane {
	lane := report.StateLane{Name: strings.ReplaceAll(c.Device, "_", " ") + " state"}
	for i, v := range c.Values {
		word := c.Words[int(v)]
		at := float64(i) * stepS
		if n := len(lane.Spans); n > 0 && lane.Spans[n-1].Word == word {
			lane.Spans[n-1].ToS = at
			continue
		} else if n > 0 {
			lane.Spans[n-1].ToS = at
		}
		lane.Spans = append(lane.Spans, report.StateSpan{FromS: at, ToS: at, Word: word, Sick: trace.Sick(word)})
	}
	return lane
}

// links gives a lane to each link that had a fault: sound, but for the faults' time.
func links(events []scenarios.Event, lasted verdict.Number) []report.StateLane {
	end, _ := lasted.Value()
	var lanes []report.StateLane
	at := map[string]int{}
	for _, e := range events {
		if e.Link == nil {
			continue
		}
		i, known := at[e.Device]
		if !known {
			i = len(lanes)
			at[e.Device] = i
			lanes = append(lanes, report.StateLane{Name: "link to " + strings.ReplaceAll(e.Device, "_", " "),
				Spans: []report.StateSpan{{ToS: end, Word: "sound"}}})
		}
		l := &lanes[i]
		from, to := e.At.Seconds(), min(end, (e.At+e.Link.Lasts).Seconds())
		last := &l.Spans[len(l.Spans)-1]
		if from < last.FromS { // another fault still lasts
			l.Spans = append(l.Spans[:len(l.Spans)-1], report.StateSpan{FromS: from, ToS: to, Word: e.Link.Kind.String(), Sick: true},
				report.StateSpan{FromS: to, ToS: end, Word: "sound"})
			l.Spans[len(l.Spans)-3].ToS = from
			continue
		}
		last.ToS = from
		l.Spans = append(l.Spans, report.StateSpan{FromS: from, ToS: to, Word: e.Link.Kind.String(), Sick: true},
			report.StateSpan{FromS: to, ToS: end, Word: "sound"})
	}
	return lanes
}
