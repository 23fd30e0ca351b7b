package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"kilter/cmd/steady/wrong"
	"kilter/emulator"
	"kilter/suites/campaign"
	"kilter/suites/verdict"
)

// contestant is the controller that a campaign puts to the test: flags that several commands share.
type contestant struct {
	policy  string
	command string
	speaks  string
}

func (c *contestant) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&c.policy, "policy", "steady", "a controller that comes along, with arguments of its own behind it: steady, none or wrong/NAME, as in 'steady --hold 30s'")
	f.StringVar(&c.command, "controller", "", "the controller's `COMMAND`, as for kilter check")
	f.StringVar(&c.speaks, "speaks", "modbus", "how the --controller speaks to the bench: modbus or lines")
}

// settle is the controller that was given.
func (c *contestant) settle(cmd *cobra.Command) (campaign.Controller, error) {
	if c.command == "" {
		if c.speaks != "modbus" {
			return campaign.Controller{}, fmt.Errorf("--speaks %s: only a --controller can speak so", c.speaks)
		}
		return campaign.Controller{Policy: c.policy}, checkPolicy(c.policy)
	}
	if cmd.Flags().Changed("policy") {
		return campaign.Controller{}, errors.New("--policy and --controller both say who is put to the test; give one")
	}
	if c.speaks != "modbus" && c.speaks != "lines" {
		return campaign.Controller{}, fmt.Errorf("--speaks %q: must be modbus or lines", c.speaks)
	}
	words, err := emulator.SplitCommand(c.command)
	if err != nil {
		return campaign.Controller{}, err
	}
	if err := emulator.FindProgram(words[0]); err != nil {
		return campaign.Controller{}, coded{verdict.ExitControllerGone, err}
	}
	return campaign.Controller{Command: c.command, InLines: c.speaks == "lines"}, nil
}

// checkLine is the command that plays scenarios with a controller, its settings filled in: its environment stands before all.
func checkLine(c *campaign.Controller, scenarios ...string) (line []string, err error) {
	filled, settings, err := c.Filled()
	if err != nil {
		return nil, err
	}
	for _, s := range settings {
		name, value, _ := strings.Cut(s, "=")
		line = append(line, name+"="+quote(value))
	}
	line = append(line, "kilter", "check")
	for _, s := range scenarios {
		line = append(line, quote(s))
	}
	for i, w := range filled {
		filled[i] = quote(w)
	}
	flag := "--policy"
	if c.Command != "" {
		flag = "--controller"
	}
	line = append(line, flag, quote(strings.Join(filled, " ")))
	if c.InLines {
		line = append(line, "--speaks", "lines")
	}
	return line, nil
}

// checkPolicy says whether a controller of these words comes along.
func checkPolicy(words string) error {
	list, err := emulator.SplitCommand(words)
	if err != nil {
		return fmt.Errorf("--policy %s: %w", words, err)
	}
	fault, isWrong := strings.CutPrefix(list[0], "wrong/")
	switch {
	case isWrong:
		if _, err := wrong.Find(fault); err != nil {
			return fmt.Errorf("--policy %s: %w", words, err)
		}
	case list[0] == "none" && len(list) > 1:
		return fmt.Errorf("--policy %q: none takes no arguments", words)
	case list[0] != "steady" && list[0] != "none":
		return fmt.Errorf("--policy %q: must be steady, none or wrong/NAME; another controller is given with --controller 'COMMAND'", words)
	}
	return nil
}

// commandsOf are those that a campaign with this controller may run.
func commandsOf(c *campaign.Controller) []string {
	if c.Command == "" {
		return nil
	}
	return []string{c.Command}
}

// ownPlayer plays runs in this process; the controllers that come along run from this binary.
func ownPlayer(allowed ...string) (*campaign.Player, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("the controllers that come along run from this binary, which cannot be found: %w", err)
	}
	return &campaign.Player{Self: []string{self}, Allowed: allowed, Own: true}, nil
}
