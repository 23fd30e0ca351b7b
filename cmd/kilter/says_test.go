package main

import (
	"bufio"
	"fmt"
	"os"
	"strings"
)

// says is a controller that speaks in lines: it answers each line of the bench with the next one of a file, and with the
// last one over and over. What it hears goes to standard error.
func says(file string) {
	text, err := os.ReadFile(file)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	answers := strings.Split(strings.TrimSpace(string(text)), "\n")
	lines := bufio.NewScanner(os.Stdin)
	lines.Buffer(nil, 1<<20)
	lines.Scan() // the bench file
	for n := 0; lines.Scan(); n++ {
		fmt.Fprintln(os.Stderr, lines.Text())
		fmt.Println(answers[min(n, len(answers)-1)])
	}
	fmt.Fprintln(os.Stderr, "the input has ended")
}
