package report

import (
	"fmt"
	"io"
	"time"
	"unicode/utf8"
)

// How often a progress line is written: often enough to look alive on a
// terminal, seldom enough to leave a log readable.
const (
	terminalEvery = 200 * time.Millisecond
	plainEvery    = 10 * time.Second
	terminalWidth = 79
)

// Line is one line of progress. On a terminal it is rewritten; elsewhere a plain line is written now and then. It is for
// eyes only: it reads the wall clock, and nothing that is judged passes through it.
type Line struct {
	w        io.Writer
	terminal bool
	now      func() time.Time
	shown    time.Time
	open     bool // A terminal line waits to be rewritten.
}

// NewLine starts a line. The clock is time.Now except in tests.
func NewLine(w io.Writer, terminal bool, now func() time.Time) *Line {
	return &Line{w: w, terminal: terminal, now: now, shown: now()}
}

// Due says whether it is time to show the line again, and at what instant.
func (l *Line) Due() (now time.Time, due bool) {
	now = l.now()
	every := plainEvery
	if l.terminal {
		every = terminalEvery
	}
	return now, now.Sub(l.shown) >= every
}

// Show writes the line.
func (l *Line) Show(text string) {
	l.shown = l.now()
	if !l.terminal {
		fmt.Fprintln(l.w, text)
		return
	}
	if n := utf8.RuneCountInString(text); n > terminalWidth { // A wrapped line cannot be rewritten.
		text = string([]rune(text)[:terminalWidth])
	}
	fmt.Fprint(l.w, "\r"+text+"\x1b[K")
	l.open = true
}

// Done clears the terminal's line, so that what follows starts clean.
func (l *Line) Done() {
	if l.open {
		fmt.Fprint(l.w, "\r\x1b[K")
		l.open = false
	}
}
