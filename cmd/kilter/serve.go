package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"kilter/emulator"
	"kilter/suites/verdict"
)

func newServe() *cobra.Command {
	var pace string
	var poll time.Duration
	var input inputs
	var at place
	var page string
	var secure security
	cmd := &cobra.Command{
		Use:   "serve SCENARIO",
		Short: "Put a scenario's devices on the wire and keep them there",
		Example: `  kilter serve calm-start --pace real --port 15020
  kilter serve calm-start --port 15020 --bench-file bench.json
  kilter serve calm-start --listen 192.0.2.10 --port 15020 --no-real-equipment`,
		Args: takes(1, false, "one scenario"),
		RunE: func(cmd *cobra.Command, args []string) error {
			paceOf, err := settlePace(pace, poll, cmd.Flags().Changed("poll"))
			if err != nil {
				return err
			}
			if err := at.check(); err != nil {
				return err
			}
			secured, err := secure.config()
			if err != nil {
				return err
			}
			list, err := input.load(args)
			if err != nil {
				return err
			}
			live, err := newLivePanel(list[0].scenario, page)
			if err != nil {
				return err
			}
			defer live.close()
			opt := emulator.Options{
				Pace: paceOf, Poll: poll, Host: at.listen, Port: at.port, Endless: true, TLS: secured,
				Observe: []func(*emulator.Tick){func(t *emulator.Tick) { tellWrites(cmd.OutOrStdout(), t.Writes, list[0].scenario.Step) }},
			}
			live.look(&opt)
			bench, err := emulator.New(list[0].scenario, opt)
			if err != nil {
				return err
			}
			defer bench.Close()
			ctx, stop := context.WithCancel(cmd.Context())
			defer stop()
			wait, err := live.serve(ctx, bench, cmd.OutOrStdout())
			if err != nil {
				return err
			}
			defer func() { stop(); wait() }()
			if err := at.tell(cmd.OutOrStdout(), bench); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "serving; stop with Ctrl-C. Never point a controller that is also wired to real equipment at this bench.")
			if err := bench.Run(cmd.Context(), nil); !errors.Is(err, context.Canceled) {
				return err
			}
			fmt.Fprint(cmd.OutOrStdout(), punctual(bench.Lateness()))
			fmt.Fprintln(cmd.OutOrStdout(), "stopped")
			return nil
		},
	}
	cmd.Flags().StringVar(&pace, "pace", "real", "what moves simulated time: real, xN for N times as fast, such as x20, stepped, or follow for pollers that know nothing of the bench")
	cmd.Flags().DurationVar(&poll, "poll", 10*time.Second, pollUsage)
	at.flags(cmd)
	cmd.Flags().StringVar(&page, "panel", "127.0.0.1:0", "`ADDRESS` of the live page; port 0 picks a free one, off serves none")
	input.flags(cmd)
	secure.flags(cmd)
	offerScenarios(cmd)
	return cmd
}

// punctual says how well a served plant kept its pace.
func punctual(l emulator.Lateness) string {
	if l.Steps == 0 {
		return ""
	}
	const fine = time.Microsecond
	text := fmt.Sprintf("the plant's steps of %v began %v late (p50), %v (p99), %v at worst",
		l.Step, l.P50.Round(fine), l.P99.Round(fine), l.Worst.Round(fine))
	if l.FellBehind() {
		text += ": it fell behind its pace"
	}
	return text + "\n"
}

// tellWrites prints a line for each request to write, with what became of it.
func tellWrites(w io.Writer, writes []emulator.Write, step time.Duration) {
	for _, x := range writes {
		text := x.Outcome.String()
		if x.Detail != "" {
			text += ": " + x.Detail
		}
		fmt.Fprintf(w, "%s  %s  register %d = %s  %s\n",
			verdict.Moment(float64(x.Tick)*step.Seconds()), x.Device, x.Register, strings.Trim(fmt.Sprint(x.Values), "[]"), text)
	}
}

// tell prints where each device is.
func tell(to io.Writer, bench *emulator.Bench, file string) error {
	f := bench.File()
	w := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "DEVICE\tADDRESS\tUNIT\tMAP\tROLE\n")
	fmt.Fprintf(w, "bench clock\t%s\t%d\t%s\ttime\n", f.Clock.Address, f.Clock.Unit, f.Clock.Registers.Map)
	for _, d := range f.Devices {
		what := d.Map
		if d.Base != 0 {
			what = fmt.Sprintf("%s from %d", d.Map, d.Base)
		}
		fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\n", d.Name, d.Address, d.Unit, what, d.Role)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if file != "" {
		if err := bench.WriteFile(file); err != nil {
			return err
		}
		fmt.Fprintf(to, "for the controller: %s=%s\n", emulator.BenchVariable, file)
	}
	return nil
}
