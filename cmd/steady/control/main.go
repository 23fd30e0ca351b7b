package control

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"time"
)

// Exit codes.
const (
	exitDone  = 0
	exitFault = 1 // the bench did not answer
	exitUsage = 2 // bad flags or a bad bench file
)

// options are the settings of the process around those of the policy.
type options struct {
	Settings
	bench      string
	period     time.Duration
	revert     time.Duration
	staleAfter int
}

// Main runs the reference controller until the bench closes or a signal comes, and returns the exit
// code. It is the whole of the command.
func Main(args []string, stderr io.Writer) int { return Program{}.Main(args, stderr) }

// parse reads the command line.
func parse(args []string, stderr io.Writer) (options, error) {
	o := options{Settings: DefaultSettings()}
	f := flag.NewFlagSet("steady", flag.ContinueOnError)
	f.SetOutput(stderr)
	f.StringVar(&o.bench, "bench", os.Getenv("KILTER_BENCH"), "the bench `file`; KILTER_BENCH unless given")
	f.DurationVar(&o.period, "period", 10*time.Second, "time between two polls")
	f.DurationVar(&o.revert, "lease", 300*time.Second, "after this long without the supervisor inverters forget their limits, where they can, and after a fifth of it what forces them to charge; 0s lets them keep both")
	f.IntVar(&o.staleAfter, "stale-after", 3, "`polls` without data after which a value is not used any more")
	f.Var(watts{&o.CirculatingAboveW}, "circulating-above", "`power` from one battery into another that is stopped")
	f.Var(percent{&o.SOCApart}, "soc-apart", "`difference` of states of charge at which they are brought together")
	f.Var(percent{&o.SOCTogether}, "soc-together", "`difference` of states of charge at which that ends")
	f.Var(watts{&o.MarginW}, "margin", "`power` that is kept free under the import limit")
	f.Var(watts{&o.RaiseW}, "raise", "`power` by which more must be free before charging from the grid rises")
	f.Var(watts{&o.UnservedAboveW}, "unserved-above", "grid `power` that shows that the batteries do not do what the site needs, and the step in which they hand work over")
	f.DurationVar(&o.Hold, "hold", o.Hold, "how long a change must last before it is followed, unless blocked power is wanted")
	f.Var(percent{&o.ChargeTo}, "charge-to", "state of `charge` to which the cheap slot fills")
	f.Var(percent{&o.LeadShare}, "lead-share", "`share` of its ability that the first battery is counted on while states of charge are brought together")
	f.Usage = func() {
		fmt.Fprintln(stderr, "steady keeps two or more battery inverters from working against each other.")
		f.PrintDefaults()
	}
	if err := f.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return o, err
		}
		return o, fmt.Errorf("bad flags: %w", err)
	}
	switch {
	case f.NArg() > 0:
		return o, fmt.Errorf("unexpected argument %q: all settings are flags", f.Arg(0))
	case o.bench == "":
		return o, fmt.Errorf("no bench file: set KILTER_BENCH or give --bench FILE")
	case o.period < 100*time.Millisecond || o.period > time.Hour:
		return o, fmt.Errorf("period is %v: must be from 100ms to 1h", o.period)
	case o.revert < 0 || o.revert > 18*time.Hour || o.revert%time.Second != 0:
		return o, fmt.Errorf("lease is %v: must be whole seconds from 0s to 18h", o.revert)
	case o.staleAfter < 1:
		return o, fmt.Errorf("stale-after is %d: must be at least 1", o.staleAfter)
	}
	return o, o.Settings.validate()
}
