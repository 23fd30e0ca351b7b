package main

import (
	"os"
	"strings"
)

// quote makes one shell word of a text.
func quote(text string) string {
	if text != "" && !strings.ContainsAny(text, " \t\n'\"\\$`!*?[]{}()<>|&;#~") {
		return text
	}
	return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'"
}

// isTerminal says whether a file is a person's terminal.
func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// useColour says whether colour may be used: on a terminal, unless NO_COLOR is set.
func useColour(f *os.File) bool {
	_, no := os.LookupEnv("NO_COLOR")
	return !no && isTerminal(f)
}
