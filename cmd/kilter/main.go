// Command kilter is a test bench for controllers of battery inverters behind one grid
// connection. See the README.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"kilter/suites/verdict"
)

// exitUsage is the exit code for usage or bad input; the others are the verdict's.
const exitUsage = 2

// coded is an error that knows its exit code. An error without a text has been told already.
type coded struct {
	code int
	err  error
}

func (c coded) Error() string {
	if c.err == nil {
		return ""
	}
	return c.err.Error()
}

func (c coded) Unwrap() error { return c.err }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	os.Exit(execute(ctx, os.Args[1:]))
}

func execute(ctx context.Context, args []string) int {
	root := newRoot()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return verdict.ExitPassed
	}
	code := exitUsage
	var c coded
	if errors.As(err, &c) {
		code = c.code
	}
	if text := err.Error(); text != "" {
		fmt.Fprintln(os.Stderr, "kilter: "+text)
	}
	return code
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "kilter",
		Short: "A test bench for controllers of battery inverters",
		Long: `kilter puts a site's inverters, meters and charger on real Modbus, with one physical model
behind them, plays a scenario, and judges the controller that runs the site.

Exit codes: 0 passed, 1 a criterion failed, 2 usage or bad input, 3 a fault of the bench, 4 the
controller never came or died.`,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.AddCommand(newAtlas(), newCheck(), newCompare(), newDoctor(), newFalsify(), newLearn(), newLint(), newList(), newNew(), newPlayer(), newPlot(), newShrink(), newProbe(), newServe(), newSteady(), newSweep(), newTrust(), newWorker(), newWrong())
	root.SetFlagErrorFunc(wrongFlag)
	return root
}
