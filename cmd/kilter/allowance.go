package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"kilter/emulator"
)

// allowance is what a controller may use before it is stopped as a runaway.
type allowance struct {
	limits emulator.Limits
	memory string
	output string
}

func (a *allowance) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.DurationVar(&a.limits.CPU, "max-cpu", emulator.DefaultLimits.CPU, "stop a controller that has used so much processor time")
	f.StringVar(&a.memory, "max-memory", bytesText(emulator.DefaultLimits.Memory), "stop a controller that takes so much memory, such as 500MB")
	f.StringVar(&a.output, "max-output", bytesText(emulator.DefaultLimits.Output), "stop a controller that has printed so much")
}

// settle reads what was given.
func (a *allowance) settle() error {
	if a.limits.CPU <= 0 {
		return fmt.Errorf("--max-cpu %v: must be longer than 0 s", a.limits.CPU)
	}
	var err error
	if a.limits.Memory, err = bytesOf("--max-memory", a.memory); err != nil {
		return err
	}
	a.limits.Output, err = bytesOf("--max-output", a.output)
	return err
}

// sizes are the units of memory, the largest first.
var sizes = []struct {
	name  string
	bytes int64
}{{"GB", 1 << 30}, {"MB", 1 << 20}, {"kB", 1 << 10}}

func bytesOf(flag, text string) (int64, error) {
	for _, s := range sizes {
		digits, is := strings.CutSuffix(text, s.name)
		if !is {
			continue
		}
		if n, err := strconv.ParseInt(strings.TrimSpace(digits), 10, 32); err == nil && n > 0 {
			return n * s.bytes, nil
		}
	}
	return 0, fmt.Errorf("%s %q: must be a whole number of kB, MB or GB, such as 500MB", flag, text)
}

func bytesText(n int64) string {
	for _, s := range sizes {
		if n%s.bytes == 0 {
			return fmt.Sprintf("%d%s", n/s.bytes, s.name)
		}
	}
	return strconv.FormatInt(n, 10)
}
