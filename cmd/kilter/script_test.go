package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"kilter/emulator"
)

var update = flag.Bool("update", false, "rewrite the expected texts in testdata/script")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"kilter": func() {
			ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
			defer stop()
			os.Exit(execute(ctx, os.Args[1:]))
		},
		"clumsy": clumsy, "natsd": natsd,
	})
}

// TestScripts plays the command line: one text file a behaviour, under testdata/script.
func TestScripts(t *testing.T) {
	bad, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	python, starter := python(), starterGo(t)
	testscript.Run(t, testscript.Params{
		Dir:           "testdata/script",
		UpdateScripts: *update,
		Setup: func(e *testscript.Env) error {
			e.Setenv("TESTDATA", bad)
			e.Setenv("KILTER_DATA", os.Getenv("KILTER_DATA"))
			e.Setenv("PYTHON", python)
			e.Setenv("STARTER_GO", starter)
			e.Setenv("NODE_PATH", os.Getenv("KILTER_NODE_MODULES"))
			return documented(e, "../..")
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits,
			"found": found, "free": free, "listens": listens,
			"broken": broken, "reproduces": reproduces, "replays": replays,
		},
		Condition: func(cond string) (bool, error) {
			switch cond {
			case "measured": // the measured sky is at hand
				return os.Getenv("KILTER_DATA") != "", nil
			case "modbus-serial": // node finds it
				return os.Getenv("KILTER_NODE_MODULES") != "", nil
			case "pymodbus": // a Python that has it is at hand
				return python != "", nil
			}
			return false, errors.New("unknown condition")
		},
	})
}

// found waits for a bench file and tells where its devices are: NAME_AT holds the address of a device, and NAME_UNIT
// its unit.
func found(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: found BENCH-FILE")
	}
	var bench emulator.File
	for range 500 {
		text, err := os.ReadFile(ts.MkAbs(args[0]))
		if err == nil && json.Unmarshal(text, &bench) == nil {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	if len(bench.Devices) == 0 {
		ts.Fatalf("%s: no bench came", args[0])
	}
	for _, d := range bench.Devices {
		ts.Setenv(d.Name+"_AT", d.Address)
		ts.Setenv(d.Name+"_UNIT", strconv.Itoa(int(d.Unit)))
	}
	ts.Setenv("clock_AT", bench.Clock.Address)
}

// exits runs a command and asserts its exit code: exits 2 kilter lint x.yaml. Its output is
// kept for stdout and stderr as exec keeps it.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var failed *exec.ExitError
	if errors.As(err, &failed) {
		got = failed.ExitCode()
	} else {
		ts.Check(err)
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

// broken takes the line out of a Python starter that writes south's limits.
func broken(ts *testscript.TestScript, neg bool, args []string) {
	text := ts.ReadFile(args[0])
	line := `south.ask("write_registers", 0x203, limits)`
	if strings.Count(text, line) != 1 {
		ts.Fatalf("%s does not write south's limits in one place", args[0])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, line, "pass", 1)), 0o644))
}
