package main

import (
	"encoding/json"

	"github.com/rogpeppe/go-internal/testscript"

	"kilter/emulator"
	"kilter/suites/sweep"
)

// replays runs the command that a sweep recommends, and asserts that it passes: replays FOLDER.
func replays(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: replays FOLDER")
	}
	var m sweep.Summary
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0]+"/sweep.json")), &m))
	words, err := emulator.SplitCommand(m.Recommended.Command)
	ts.Check(err)
	ts.Check(ts.Exec(words[0], append(words[1:], "--out", "replayed")...))
}
