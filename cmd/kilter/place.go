package main

import (
	"errors"
	"fmt"
	"io"
	"net/netip"
	"strconv"

	"github.com/spf13/cobra"

	"kilter/emulator"
)

// place says where the bench answers, for a controller that it does not start.
type place struct {
	listen  string
	unwired bool
	port    int
	file    string
}

func (p *place) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.IntVar(&p.port, "port", 0, "port of the bench clock, with the devices on the ports after it; 0 picks free ports")
	f.StringVar(&p.file, "bench-file", "", "write the file for KILTER_BENCH to this `FILE`")
	f.StringVar(&p.listen, "listen", "", "answer at this `ADDRESS` of this machine, so that a controller elsewhere on the network reaches the bench; loopback only by default")
	f.BoolVar(&p.unwired, "no-real-equipment", false, "with --listen: no controller that may reach the bench is also wired to real equipment")
}

// words are the flags as they were given.
func (p *place) words() (list []string) {
	if p.port != 0 {
		list = append(list, "--port", strconv.Itoa(p.port))
	}
	if p.file != "" {
		list = append(list, "--bench-file", quote(p.file))
	}
	if p.listen != "" {
		list = append(list, "--listen", quote(p.listen), "--no-real-equipment")
	}
	return list
}

// wiredWarning is what the bench cannot help.
const wiredWarning = "The bench cannot stop a controller that is also wired to real equipment: what it decides for the bench's site it may do to yours."

// check says what is wrong with the flags.
func (p *place) check() error {
	if p.port < 0 || p.port > 65535 {
		return fmt.Errorf("--port %d: must be 0 for free ports, or up to 65535", p.port)
	}
	if p.listen == "" {
		if p.unwired {
			return errors.New("--no-real-equipment goes with --listen ADDRESS")
		}
		return nil
	}
	a, err := netip.ParseAddr(p.listen)
	switch {
	case err != nil:
		return fmt.Errorf("--listen %q: must be an IP address of this machine, such as 192.0.2.10, without a port (--port chooses that)", p.listen)
	case a.IsUnspecified():
		return fmt.Errorf("--listen %s: would answer on every network of this machine; give the address of one", p.listen)
	case !p.unwired && !a.IsLoopback():
		return fmt.Errorf("--listen %s: %s Unwire it, or give it other addresses, and then say so with --no-real-equipment", p.listen, wiredWarning)
	}
	return nil
}

// tell says where each device is, and writes the file.
func (p *place) tell(to io.Writer, bench *emulator.Bench) error {
	if p.listen != "" {
		fmt.Fprintln(to, wiredWarning)
	}
	return tell(to, bench, p.file)
}
