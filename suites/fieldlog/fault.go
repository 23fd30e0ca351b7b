package fieldlog

import (
	"fmt"
	"strings"
)

// Fault is one reason why a log or a map cannot be used.
type Fault struct {
	File   string
	Line   int    // 0 where it is about the whole
	Field  string // the column or key; empty where it is about the whole
	Found  string
	Wanted string
	Hint   string
}

func (f *Fault) Error() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ":%d", f.Line)
	}
	b.WriteString(": ")
	if f.Field != "" {
		b.WriteString(f.Field + ": ")
	}
	fmt.Fprintf(&b, "found %s, wanted %s", f.Found, f.Wanted)
	if f.Hint != "" {
		fmt.Fprintf(&b, " (%s)", f.Hint)
	}
	return b.String()
}

func bad(file string, line int, field, found, wanted, hint string) error {
	return &Fault{file, line, field, found, wanted, hint}
}

// Level says how much a finding matters.
type Level uint8

// The levels.
const (
	Note    Level = iota // handled; good to know
	Warning              // the result may be wrong for it
)

// String gives the level's word.
func (l Level) String() string { return [...]string{"note", "warning"}[l] }

// Finding is something about a log that a reader should know.
type Finding struct {
	Level Level
	Where string // column and line or time
	What  string
}

func (f Finding) String() string {
	if f.Where == "" {
		return f.What
	}
	return f.Where + ": " + f.What
}
