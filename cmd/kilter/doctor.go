package main

import (
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"kilter/emulator"
	"kilter/emulator/modbus"
	"kilter/suites/verdict"
)

// finding is what the doctor says of one thing.
type finding struct {
	what   string
	lacks  error  // nil where it is there
	detail string // where it is there
	so     string // what cannot be done without it, and what to do
	vital  bool   // nothing can be done without it
}

func newDoctor() *cobra.Command {
	return &cobra.Command{
		Use:     "doctor",
		Short:   "Say what this machine lacks for the bench, and what to do about it",
		Example: "  kilter doctor",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return diagnose(cmd.OutOrStdout(), slices.Concat(network(), machine(), tools()))
		},
	}
}

// diagnose tells the findings, and is an error where the bench cannot work.
func diagnose(to io.Writer, list []finding) error {
	lacking, dead := 0, false
	for _, f := range list {
		if f.lacks == nil {
			fmt.Fprintf(to, "ok     %s%s\n", f.what, f.detail)
			continue
		}
		lacking++
		dead = dead || f.vital
		fmt.Fprintf(to, "lacks  %s: %v\n       %s\n", f.what, f.lacks, f.so)
	}
	switch {
	case dead:
		return coded{verdict.ExitBenchFault, errors.New("the bench cannot work on this machine as it is; see the lines that begin with lacks")}
	case lacking == 0:
		fmt.Fprintln(to, "nothing is missing")
	default:
		fmt.Fprintln(to, "the bench works; what is missing is missed only by what the lines above name")
	}
	return nil
}

// network looks at what the devices answer on.
func network() []finding {
	listens := func(address string) error {
		l, err := net.Listen("tcp", address)
		if err == nil {
			err = l.Close()
		}
		return err
	}
	terminal := func() error {
		s, err := modbus.ListenRTU(map[byte]modbus.Device{1: struct{ modbus.Device }{}}, modbus.RTUOptions{})
		if err == nil {
			err = s.Close()
		}
		return err
	}
	return []finding{
		{what: "free ports on 127.0.0.1", lacks: listens("127.0.0.1:0"), vital: true,
			so: "no device can answer: look at the loopback interface, and at limits of open files (ulimit -n)"},
		{what: "other addresses of loopback (127.0.0.2)", lacks: listens("127.0.0.2:0"),
			so: "--listen 127.0.0.2 needs it: sudo ifconfig lo0 alias 127.0.0.2 on macOS; ports tell devices apart without it"},
		{what: "port 502", lacks: listens("127.0.0.1:502"),
			so: "a box that only knows port 502 needs it: sudo sysctl net.ipv4.ip_unprivileged_port_start=501 on Linux, or end what holds it"},
		{what: "pseudo-terminals", lacks: terminal(),
			so: "devices on a serial line (rtu_line) need them: use rtu_over_tcp instead"},
	}
}

// machine looks at files, processes and the clock.
func machine() []finding {
	writes := func(folder string) error {
		f, err := os.CreateTemp(folder, ".kilter-doctor-*")
		if err != nil {
			return err
		}
		return errors.Join(f.Close(), os.Remove(f.Name()))
	}
	watched := error(nil)
	if runtime.GOOS != "linux" {
		watched = errors.New("not on " + runtime.GOOS)
	}
	smallest, nap := clockPrecision()
	var late error
	if nap > 5*time.Millisecond {
		late = fmt.Errorf("a sleep of 1 ms takes %v", nap)
	}
	return []finding{
		{what: "a folder for temporary files (" + os.TempDir() + ")", lacks: writes(""), vital: true,
			so: "the bench file is written there: set TMPDIR to a folder that can be written"},
		{what: "the folder of this shell", lacks: writes("."),
			so: "run folders are written there: change to another one, or give --out"},
		{what: "controllers that stand still (SIGSTOP)", lacks: pauses(),
			so: "scenarios that pause a controller need it; the others do not"},
		{what: "watching a controller's processor time and memory", lacks: watched,
			so: "only what it prints is limited: end a runaway by hand"},
		{what: "the clock", lacks: late, detail: fmt.Sprintf(": steps of %v; a sleep of 1 ms takes %v", smallest, nap.Round(10*time.Microsecond)),
			so: "paces real and xN are late by as much: use stepped, or end what keeps the machine busy"},
	}
}

// pauses says whether a process can be made to stand still and be ended.
func pauses() error {
	p, err := emulator.StartProcess(emulator.Launch{Words: []string{"sh", "-c", "sleep 60"}, Output: io.Discard, Now: func() time.Duration { return 0 }})
	if err != nil {
		return err
	}
	p.Pause()
	p.Kill()
	return nil
}

// clockPrecision is the least step of the clock that was seen, and how long a sleep of 1 ms takes, the middle of some.
func clockPrecision() (smallest, nap time.Duration) {
	smallest = time.Hour
	for begun := time.Now(); time.Since(begun) < 5*time.Millisecond; {
		a := time.Now()
		b := time.Now()
		if d := b.Sub(a); d > 0 {
			smallest = min(smallest, d)
		}
	}
	naps := make([]time.Duration, 15)
	for i := range naps {
		begun := time.Now()
		time.Sleep(time.Millisecond)
		naps[i] = time.Since(begun)
	}
	slices.Sort(naps)
	return smallest, naps[len(naps)/2]
}

// tools looks for what starters and documents use.
func tools() (list []finding) {
	for _, t := range []struct {
		try    []string
		what   string
		so     string
		silent bool
	}{
		{[]string{"go", "version"}, "go", "the Go starter needs it: install Go 1.26 or newer", false},
		{[]string{"python3", "-c", "import pymodbus; print('pymodbus', pymodbus.__version__)"}, "python3 with pymodbus",
			"the Python starter needs it: pip install pymodbus, or apt-get install python3-pymodbus", false},
		{[]string{"node", "--version"}, "node", "the JavaScript starter needs it, with npm install modbus-serial beside it", false},
		{[]string{"mbpoll", "-V"}, "mbpoll", "the shell starter needs it: apt-get install mbpoll", true},
		{[]string{"tshark", "--version"}, "tshark", "traffic.pcap is read by it, or by another packet analyser: apt-get install tshark", true},
	} {
		f := finding{what: t.what, so: t.so}
		out, err := exec.Command(t.try[0], t.try[1:]...).Output()
		var failed *exec.ExitError
		switch {
		case errors.Is(err, exec.ErrNotFound):
			f.lacks = errors.New("not found on PATH")
		case errors.As(err, &failed) && !t.silent:
			f.lacks = fmt.Errorf("%s on PATH, %s, says: %s", t.try[0], whereIs(t.try[0]), complaint(failed))
		case !t.silent:
			f.detail = ": " + strings.TrimSpace(string(out))
		}
		list = append(list, f)
	}
	return list
}

// whereIs is where a program on PATH stands: there may be several.
func whereIs(program string) string {
	path, err := exec.LookPath(program)
	if err != nil {
		return program
	}
	return path
}

// complaint is the last line that a program printed on standard error before it failed, or else how it ended.
func complaint(failed *exec.ExitError) string {
	lines := strings.Split(strings.TrimSpace(string(failed.Stderr)), "\n")
	if last := strings.TrimSpace(lines[len(lines)-1]); last != "" {
		return last
	}
	return failed.Error()
}
