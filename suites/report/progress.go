package report

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"kilter/suites/verdict"
)

// How often a progress line is written: often enough to look alive on a
// terminal, seldom enough to leave a log readable.
const (
	terminalEvery = 200 * time.Millisecond
	plainEvery    = 10 * time.Second
	terminalWidth = 79
)

// Progress shows how far a run has come. On a terminal it rewrites one line;
// elsewhere it writes a plain line now and then. It is for eyes only: it
// reads the wall clock, and nothing that is judged passes through it.
type Progress struct {
	w        io.Writer
	terminal bool
	now      func() time.Time
	label    string
	total    float64
	began    time.Time
	shown    time.Time
	open     bool // A terminal line waits to be rewritten.
}

// NewProgress starts a progress line for totalS simulated seconds.
// The clock is time.Now except in tests.
func NewProgress(w io.Writer, terminal bool, now func() time.Time, label string, totalS float64) *Progress {
	began := now()
	return &Progress{w: w, terminal: terminal, now: now, label: printable(label), total: totalS, began: began, shown: began}
}

// Label changes what the line is called.
func (p *Progress) Label(label string) { p.label = printable(label) }

// At reports the simulated time that the run has reached. It may be called
// at every step; it writes only when a line is due.
func (p *Progress) At(simulatedS float64) {
	now := p.now()
	every := plainEvery
	if p.terminal {
		every = terminalEvery
	}
	if now.Sub(p.shown) < every {
		return
	}
	p.shown = now
	p.write(p.line(simulatedS, now))
}

// Done clears the terminal's line, so that what follows starts clean.
func (p *Progress) Done() {
	if p.open {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.open = false
	}
}

func (p *Progress) write(line string) {
	if !p.terminal {
		fmt.Fprintln(p.w, line)
		return
	}
	if n := utf8.RuneCountInString(line); n > terminalWidth { // A wrapped line cannot be rewritten.
		line = string([]rune(line)[:terminalWidth])
	}
	fmt.Fprint(p.w, "\r"+line+"\x1b[K")
	p.open = true
}

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
