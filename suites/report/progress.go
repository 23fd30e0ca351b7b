package report

import (
	"fmt"
	"io"
	"strings"
	"time"

	"kilter/suites/verdict"
)

// Progress shows how far a run has come, on one line.
type Progress struct {
	show  *Line
	label string
	total float64
	began time.Time
}

// NewProgress starts a progress line for totalS simulated seconds.
// The clock is time.Now except in tests.
func NewProgress(w io.Writer, terminal bool, now func() time.Time, label string, totalS float64) *Progress {
	return &Progress{show: NewLine(w, terminal, now), label: printable(label), total: totalS, began: now()}
}

// Label changes what the line is called.
func (p *Progress) Label(label string) { p.label = printable(label) }

// At reports the simulated time that the run has reached. It may be called
// at every step; it writes only when a line is due.
func (p *Progress) At(simulatedS float64) {
	if now, due := p.show.Due(); due {
		p.show.Show(p.line(simulatedS, now))
	}
}

// Done clears the terminal's line, so that what follows starts clean.
func (p *Progress) Done() { p.show.Done() }

// line reads "van-on-fuse  0:12:34 of 0:40:00  31 %  840x  2 s left".
func (p *Progress) line(simulated float64, now time.Time) string {
	parts := []string{p.label, verdict.Moment(float64(int64(simulated)))}
	if p.total > 0 {
		parts[1] += " of " + verdict.Moment(p.total)
		parts = append(parts, fmt.Sprintf("%.0f %%", 100*min(1, simulated/p.total)))
	}
	if wall := now.Sub(p.began).Seconds(); wall > 0 && simulated > 0 {
		rate := simulated / wall
		parts = append(parts, rateText(rate))
		if p.total > simulated {
			left := time.Duration((p.total - simulated) / rate * float64(time.Second)).Round(time.Second)
			parts = append(parts, left.String()+" left")
		}
	}
	return strings.Join(parts, "  ")
}

func rateText(rate float64) string {
	if rate < 10 {
		return fmt.Sprintf("%.1fx", rate)
	}
	return fmt.Sprintf("%.0fx", rate)
}
