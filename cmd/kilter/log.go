package main

import "fmt"

// maxLog is how much of a controller's output is kept, from the beginning.
const maxLog = 16 << 20

// cappedLog keeps the beginning of what is written to it, and counts the rest: a controller may
// print without end.
type cappedLog struct {
	text    []byte
	dropped int64
}

func (l *cappedLog) Write(p []byte) (int, error) {
	keep := min(len(p), maxLog-len(l.text))
	l.text = append(l.text, p[:keep]...)
	l.dropped += int64(len(p) - keep)
	return len(p), nil
}

func (l *cappedLog) kept() []byte {
	if l.dropped == 0 {
		return l.text
	}
	return fmt.Appendf(l.text, "\n(kilter: the log is full; %d bytes more were not kept)\n", l.dropped)
}
