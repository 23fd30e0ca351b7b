package scenarios

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// maxErrors bounds what is reported about one file: beyond it, what follows is
// mostly the echo of what came before.
const maxErrors = 20

// Error is one thing wrong in a file: where it stands, what was found and what
// would be right.
type Error struct {
	File   string
	Line   int    // 1 for the first; 0 when the whole file is meant
	Column int    // 1 for the first
	Path   string // keys from the root of the document, joined by dots
	Found  string
	Wanted string
	Hint   string // how to write it, or the word that was probably meant
}

// Error gives the whole of it on one line.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", e.Line, e.Column)
	}
	b.WriteString(": ")
	if e.Path != "" {
		b.WriteString(e.Path + ": ")
	}
	b.WriteString("found " + e.Found)
	if e.Wanted != "" {
		b.WriteString(", wanted " + e.Wanted)
	}
	if e.Hint != "" {
		b.WriteString(" (" + e.Hint + ")")
	}
	return b.String()
}

// Errors is all that is wrong in a file, in the order of its lines.
type Errors []*Error

// Error gives each on a line of its own.
func (e Errors) Error() string {
	lines := make([]string, len(e), len(e)+1)
	for i, one := range e {
		lines[i] = one.Error()
	}
	if len(e) >= maxErrors {
		lines = append(lines, fmt.Sprintf("reading stops at %d errors; there may be more", maxErrors))
	}
	return strings.Join(lines, "\n")
}

// spot is a place in a file.
type spot struct {
	file      string
	line, col int
	path      string
}

// String gives the place as an editor opens it.
func (s spot) String() string { return fmt.Sprintf("%s:%d:%d", s.file, s.line, s.col) }

// under gives the same place with a longer path.
func (s spot) under(key string) spot {
	if s.path != "" {
		key = s.path + "." + key
	}
	s.path = key
	return s
}

// findings collects errors while a file is read.
type findings struct{ list Errors }

// add notes one error, unless there are enough already.
func (f *findings) add(at spot, found, wanted, hint string) {
	if len(f.list) >= maxErrors {
		return
	}
	f.list = append(f.list, &Error{at.file, at.line, at.col, at.path, found, wanted, hint})
}

// take adds what was found wrong in another file.
func (f *findings) take(err error) {
	var others Errors
	if errors.As(err, &others) && len(f.list) < maxErrors {
		f.list = append(f.list, others...)
	}
}

// err gives what was found in the order of the lines, or nil.
func (f *findings) err() error {
	if len(f.list) == 0 {
		return nil
	}
	slices.SortStableFunc(f.list, func(a, b *Error) int {
		return cmp.Or(strings.Compare(a.File, b.File), a.Line-b.Line, a.Column-b.Column)
	})
	return f.list
}

// quoted shows what a file says, shortened where it is long.
func quoted(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "..."
	}
	return fmt.Sprintf("%q", s)
}

// didYouMean gives the hint for a word that is not among the known ones. Among
// equally near words the first in the list is chosen.
func didYouMean(word string, known []string) string {
	best, at := "", max(len(word)/3+1, 2)
	for _, k := range known {
		if d := editDistance(strings.ToLower(word), k, at); d < at {
			best, at = k, d
		}
	}
	if best == "" {
		return ""
	}
	return "did you mean " + best + "?"
}

// unknownWord gives wanted and hint for a word outside a closed list.
func unknownWord(word string, known []string) (wanted, hint string) {
	const most = 16
	list := known
	if len(list) > most {
		list = append(slices.Clone(list[:most]), "...")
	}
	wanted = "one of " + strings.Join(list, ", ")
	switch len(known) {
	case 0:
		wanted = "nothing: there is none to name"
	case 1:
		wanted = known[0]
	}
	return wanted, didYouMean(word, known)
}

// editDistance counts the insertions, deletions, replacements and swaps of
// neighbours that turn a into b; beyond most it is not exact.
func editDistance(a, b string, most int) int {
	if d := len(a) - len(b); d > most || -d > most || len(a) > 64 {
		return most + 1
	}
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
