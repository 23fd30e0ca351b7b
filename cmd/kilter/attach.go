package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"kilter/emulator"
	"kilter/suites"
)

// settleWays says what is wrong with how the controller, and where the bench answers it, was given.
func (c *check) settleWays(cmd *cobra.Command, runs int) error {
	ways := 0
	for _, flag := range []string{"controller", "policy", "attach"} {
		if cmd.Flags().Changed(flag) {
			ways++
		}
	}
	switch {
	case ways > 1:
		return errors.New("--controller, --policy and --attach exclude one another: give one")
	case c.at.port != 0 && runs > 1 && c.jobs != 1:
		return errors.New("--port is for one run at a time: give one scenario, or --jobs 1")
	case c.attach && runs > 1:
		return errors.New("--attach is for one run: give one scenario and one seed, since the controller that runs would not know where one ends")
	}
	return nil
}

// toAttach waits for a controller that runs already.
func (c *check) toAttach(cmd *cobra.Command) {
	to := cmd.ErrOrStderr() // what is asked for on the other one stays alone
	c.controlArg = []string{"--attach"}
	c.controller = suites.Controller{Name: "attached", Attach: func(b *emulator.Bench) error {
		if err := c.at.tell(to, b); err != nil {
			return err
		}
		fmt.Fprintln(to, "waiting for the controller's first request")
		return nil
	}}
}
