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

// drawsBlocks says whether small pictures of block characters may be drawn: on a terminal that says it has Unicode.
func drawsBlocks(f *os.File) bool {
	if os.Getenv("TERM") == "dumb" || !isTerminal(f) {
		return false
	}
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if locale := os.Getenv(name); locale != "" { // the first that is set decides
			return strings.Contains(strings.ToUpper(strings.ReplaceAll(locale, "-", "")), "UTF8")
		}
	}
	return false
}
