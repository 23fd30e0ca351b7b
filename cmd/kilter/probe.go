package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"kilter/emulator/probe"
	"kilter/emulator/registers"
)

func newProbe() *cobra.Command {
	var look look
	cmd := &cobra.Command{
		Use:   "probe HOST:PORT",
		Short: "Read a real or emulated device, and never write to it",
		Long: `probe reads a device over Modbus TCP and shows what it says: by default its chain of SunSpec
models, by --map the signals of a declared map, by --dump bare registers. It never writes.`,
		Example: "  kilter probe 192.168.1.20:502\n" +
			"  kilter probe 127.0.0.1:15022 --unit 2 --map south\n" +
			"  kilter probe 192.168.1.20:502 --dump input:0x100-0x17F",
		Args: takes(1, false, "the address of one device"),
		RunE: func(cmd *cobra.Command, args []string) error {
			report, err := look.at(cmd.Context(), args[0])
			if report == nil {
				return err
			}
			if look.json {
				e := json.NewEncoder(cmd.OutOrStdout())
				e.SetIndent("", "  ")
				if err := e.Encode(report); err != nil {
					return err
				}
				return err
			}
			if err := report.WriteTable(cmd.OutOrStdout()); err != nil {
				return err
			}
			return err
		},
	}
	look.flags(cmd)
	return cmd
}

// look is how to look at a device.
type look struct {
	unit            uint8
	mapName, dump   string
	json            bool
	timeout, within time.Duration
}

func (k *look) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.Uint8Var(&k.unit, "unit", 1, "the Modbus unit")
	f.StringVar(&k.mapName, "map", "", "decode by a declared map: a `FILE`, or the name of a built-in one")
	f.StringVar(&k.dump, "dump", "", "show bare registers, `TABLE:FROM-TO`; tables are holding, input, coil, discrete, and addresses count from 0")
	f.BoolVar(&k.json, "json", false, "print JSON")
	f.DurationVar(&k.timeout, "timeout", 3*time.Second, "how long to wait for the connection and for each reply")
	f.DurationVar(&k.within, "within", 2*time.Minute, "how long all of it may take")
	cmd.MarkFlagsMutuallyExclusive("map", "dump")
}

// at looks at a device. Where it falls silent in the middle, there are both a report and an error.
func (k *look) at(ctx context.Context, address string) (*probe.Report, error) {
	want, err := k.request()
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, k.within)
	defer cancel()
	link, err := probe.Dial(address, k.unit, k.timeout)
	if err != nil {
		return nil, err
	}
	defer link.Close()
	return probe.Look(ctx, link, want)
}

func (k *look) request() (want probe.Request, err error) {
	if k.timeout <= 0 || k.within <= 0 {
		return want, fmt.Errorf("--timeout and --within must be longer than nothing")
	}
	if k.dump != "" {
		span, err := probe.ParseRange(k.dump)
		if err != nil {
			return want, fmt.Errorf("--dump %w", err)
		}
		want.Range = &span
	}
	if k.mapName != "" {
		if want.Map, err = findMap(k.mapName); err != nil {
			return want, fmt.Errorf("--map %w", err)
		}
	}
	return want, nil
}

// findMap finds a declared map by its built-in name or in a file.
func findMap(name string) (*registers.Map, error) {
	m, unknown := registers.Builtin(name)
	if unknown == nil {
		if strings.HasPrefix(name, "sunspec ") {
			return nil, fmt.Errorf("%q: a SunSpec chain describes itself, so leave --map out", name)
		}
		return m, nil
	}
	if _, err := os.Stat(name); err != nil {
		return nil, fmt.Errorf("%q: neither a file nor built in: %w", name, unknown)
	}
	return registers.LoadMap(name)
}
