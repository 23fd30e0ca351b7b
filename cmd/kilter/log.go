package main

import "fmt"

// What is kept of a controller's output: the beginning, and as much of the end as tells why it stopped.
const (
	maxLog  = 16 << 20
	maxTail = 16 << 10
)

// cappedLog keeps the beginning and the end of what is written to it, and counts the rest: a
// controller may print without end.
type cappedLog struct {
	text, tail []byte
	beyond     int64 // how much came after the beginning
}

func (l *cappedLog) Write(p []byte) (int, error) {
	keep := min(len(p), maxLog-len(l.text))
	l.text = append(l.text, p[:keep]...)
	rest := p[keep:]
	l.beyond += int64(len(rest))
	l.tail = append(l.tail, rest[max(0, len(rest)-maxTail):]...)
	if len(l.tail) > 2*maxTail {
		l.tail = append(l.tail[:0], l.tail[len(l.tail)-maxTail:]...)
	}
	return len(p), nil
}

func (l *cappedLog) kept() []byte {
	if l.beyond == 0 {
		return l.text
	}
	tail := l.tail[max(0, len(l.tail)-maxTail):]
	text := l.text
	if lost := l.beyond - int64(len(tail)); lost > 0 {
		text = fmt.Appendf(text, "\n(kilter: the log is full; %d bytes are not kept here)\n", lost)
	}
	return append(text, tail...)
}
