package main

import (
	"fmt"
	"regexp"
	"time"

	"kilter/emulator"
	"kilter/suites"
	"kilter/suites/verdict"
)

// named is a controller's command with a name before it.
var named = regexp.MustCompile(`^([A-Za-z][A-Za-z0-9_-]*)=(.+)$`)

// commanded reads the controllers that were given by their commands, each as COMMAND or NAME=COMMAND.
func commanded(commands []string) ([]suites.Controller, error) {
	var list []suites.Controller
	seen := map[string]bool{}
	for _, text := range commands {
		name, command := text, text
		if m := named.FindStringSubmatch(text); m != nil {
			name, command = m[1], m[2]
		}
		words, err := emulator.SplitCommand(command)
		if err != nil {
			return nil, err
		}
		if err := emulator.FindProgram(words[0]); err != nil {
			return nil, coded{verdict.ExitControllerGone, err}
		}
		if seen[name] {
			return nil, fmt.Errorf("--controller %s is given twice: give each a name, as in --controller day=%s --controller night=%[2]s",
				quote(name), quote(command))
		}
		seen[name] = true
		list = append(list, suites.Controller{Name: name, Command: words})
	}
	return list, nil
}

// byCommands settles the controllers that were given by their commands.
func (c *check) byCommands() error {
	list, err := commanded(c.commands)
	if err != nil {
		return err
	}
	for _, text := range c.commands {
		c.controlArg = append(c.controlArg, "--controller", quote(text))
	}
	switch c.speaks {
	case "modbus":
	case "lines":
		c.controlArg = append(c.controlArg, "--speaks", "lines")
		for i := range list {
			list[i].InLines = true
		}
	default:
		return fmt.Errorf("--speaks %q: must be modbus or lines", c.speaks)
	}
	c.controller, c.beside = list[0], list[1:]
	return nil
}

// pollUsage explains --poll.
const pollUsage = "with --pace follow: how much simulated time passes from one poll of the controller to its next"

// settlePace reads the pace, and whether the poll period that was given goes with it.
func settlePace(word string, poll time.Duration, pollGiven bool) (emulator.Pace, error) {
	pace, err := emulator.ParsePace(word)
	switch {
	case err != nil:
		return 0, err
	case pollGiven && pace != emulator.Follow:
		return 0, fmt.Errorf("--poll %v: the poll period is declared with --pace follow, and the pace is %s", poll, word)
	case poll <= 0:
		return 0, fmt.Errorf("--poll %v: must be longer than 0 s, as the controller polls", poll)
	}
	return pace, nil
}

// paceWords repeats the pace, for the command that reproduces a run.
func (c *check) paceWords() []string {
	words := []string{"--pace", c.paceOf.String()}
	if c.paceOf == emulator.Follow {
		words = append(words, "--poll", c.poll.String())
	}
	return words
}
