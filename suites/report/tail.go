package report

import (
	"fmt"
	"io"
	"strings"
)

// tailLines is enough for the end of a stack trace, and leaves the verdict in view.
const tailLines = 8

// Tail writes the last lines of what a controller printed, for a terminal, and where the rest is.
func Tail(w io.Writer, run string, text []byte, path string) error {
	var b strings.Builder
	lines := strings.Split(strings.TrimRight(string(text), "\n"), "\n")
	if len(lines) == 1 && strings.TrimSpace(lines[0]) == "" {
		fmt.Fprintf(&b, "the controller of %s printed nothing (%s)\n", printable(run), printable(path))
	} else {
		lines = lines[max(0, len(lines)-tailLines):]
		fmt.Fprintf(&b, "the last that the controller of %s printed (all of it: %s):\n", printable(run), printable(path))
		for _, line := range lines {
			fmt.Fprintf(&b, "  | %s\n", printable(strings.ReplaceAll(strings.TrimRight(line, "\r"), "\t", "    ")))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}
