package main

import (
	"os"

	"github.com/rogpeppe/go-internal/testscript"

	"kilter/emulator"
	"kilter/suites/verdict"
)

// reproduces runs the command that a folder's verdict names for its one run, into another folder, as a reader of a report
// would: reproduces ONE TWO. What it exits with is not looked at.
func reproduces(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: reproduces FOLDER NEW-FOLDER")
	}
	file, err := os.Open(ts.MkAbs(args[0] + "/verdict.json"))
	ts.Check(err)
	defer file.Close()
	v, err := verdict.Read(file)
	ts.Check(err)
	if len(v.Runs) != 1 {
		ts.Fatalf("%d runs, want one", len(v.Runs))
	}
	words, err := emulator.SplitCommand(v.Runs[0].Reproduce)
	ts.Check(err)
	ts.Logf("%s", v.Runs[0].Reproduce)
	_ = ts.Exec(words[0], append(words[1:], "--out", args[1])...) // an exit code of 1 is a failure judged again
}
