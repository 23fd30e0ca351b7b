package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
)

// takes asks for n arguments, or for that many and more, and shows the first example where others are given.
func takes(n int, more bool, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == n || more && len(args) > n {
			return nil
		}
		example, _, _ := strings.Cut(strings.TrimSpace(cmd.Example), "\n")
		plural := "s"
		if len(args) == 1 {
			plural = ""
		}
		return fmt.Errorf("found %d argument%s, wanted %s: %s", len(args), plural, what, example)
	}
}

// wrongFlag says what is wrong with a flag in the words of who gave it, and where flags are told.
func wrongFlag(cmd *cobra.Command, err error) error {
	text := err.Error()
	if cause := errors.Unwrap(err); cause != nil {
		text = strings.TrimSuffix(text, cause.Error()) + wanted(cause)
	}
	return fmt.Errorf("%s; %s --help lists the flags", text, cmd.CommandPath())
}

// wanted is what would have been right where the cause tells only which function could not read it.
func wanted(cause error) string {
	var number *strconv.NumError
	switch {
	case errors.As(cause, &number) && errors.Is(cause, strconv.ErrRange):
		return "the number is out of range"
	case errors.As(cause, &number) && number.Func == "ParseUint":
		return "must be a whole number, 0 or more"
	case errors.As(cause, &number) && number.Func == "ParseInt":
		return "must be a whole number"
	case strings.HasPrefix(cause.Error(), "time: "):
		return "must be a time with its unit, such as 10s, 5m or 1h30m"
	}
	return cause.Error()
}
