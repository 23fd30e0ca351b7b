package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"kilter/emulator"
	"kilter/emulator/registers"
)

// What the documents show is taken out of them and tried.

// block returns the n-th fenced block of a language in a document, from 1.
func block(document, language string, n int) (string, error) {
	text, err := os.ReadFile(document)
	if err != nil {
		return "", err
	}
	parts := strings.Split(string(text), "```"+language+"\n")
	if len(parts) <= n {
		return "", fmt.Errorf("%s: found %d blocks of %s, wanted %d", document, len(parts)-1, language, n)
	}
	inside, _, _ := strings.Cut(parts[n], "```")
	return inside, nil
}

// documented lays the documents' examples into a script's folder docs.
func documented(e *testscript.Env, root string) error {
	folder := filepath.Join(e.WorkDir, "docs")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for _, x := range []struct {
		document, language string
		n                  int
		file               string
		indent, before     string
	}{
		{"suites/README.md", "python", 1, "small.py", "", ""},
		{"suites/README.md", "sh", 14, "sweep.sh", "", "set -e\n"},
		{"suites/README.md", "yaml", 1, "ranges.yaml", "", ""},
		{"emulator/README.md", "python", 1, "lines.py", "", ""},
		{"emulator/README.md", "yaml", 2, "lone.yaml", "", ""},
		{"emulator/README.md", "yaml", 1, "lone-site.yaml", "  ", "format: 1\nsite: lone\nsupply:\n  phases: 1\n"},
	} {
		text, err := block(filepath.Join(root, x.document), x.language, x.n)
		if err != nil {
			return err
		}
		text = x.before + strings.ReplaceAll(x.indent+strings.TrimSuffix(text, "\n"), "\n", "\n"+x.indent) + "\n"
		if err := os.WriteFile(filepath.Join(folder, x.file), []byte(text), 0o644); err != nil {
			return err
		}
	}
	return badDay(filepath.Join(root, "scenarios/README.md"), filepath.Join(folder, "bad-day.yaml"))
}

// badDay puts what a document adds to the story to begin with into it.
func badDay(document, to string) error {
	story, err := starters.ReadFile("starters/site/story.yaml")
	if err != nil {
		return err
	}
	happens, err := block(document, "yaml", 1)
	if err != nil {
		return err
	}
	must, err := block(document, "yaml", 2)
	if err != nil {
		return err
	}
	text := strings.Replace(string(story), "must:\n", happens+"must:\n"+must, 1)
	return os.WriteFile(to, []byte(text), 0o644)
}

// python finds a Python that has pymodbus; Debian's own may stand behind another one on PATH.
func python() string {
	for _, name := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(name, "-c", "import pymodbus.client").Run() == nil {
			return name
		}
	}
	return ""
}

func TestDocumentedVocabulary(t *testing.T) {
	text, err := os.ReadFile("../../emulator/README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range registers.SignalNames() {
		if !strings.Contains(string(text), "`"+name+"`") {
			t.Errorf("emulator/README.md does not list the signal %s", name)
		}
	}
}

func TestDocumentedControllerIsShort(t *testing.T) {
	text, err := block("../../suites/README.md", "python", 1)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(text, "\n"); n > 40 {
		t.Errorf("the documented controller has %d lines, and promises to be small: at most 40", n)
	}
}

// TestDocumentedCommands has the command line read each call of kilter that a document shows.
func TestDocumentedCommands(t *testing.T) {
	for _, document := range []string{"README.md", "suites/README.md", "emulator/README.md", "scenarios/README.md", "cmd/kilter/starters/*/README.md"} {
		files, err := filepath.Glob("../../" + document)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v, %d files", document, err, len(files))
		}
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for line := range strings.Lines(string(text)) {
				call, is := strings.CutPrefix(strings.TrimPrefix(strings.TrimSpace(line), "./"), "kilter ")
				if !is || !strings.HasPrefix(line, "./kilter") && !strings.HasPrefix(line, "kilter") && !strings.HasPrefix(line, "    kilter") {
					continue
				}
				words, err := emulator.SplitCommand(strings.Split(call, "  #")[0])
				if err != nil {
					t.Errorf("%s: %s: %v", file, strings.TrimSpace(line), err)
					continue
				}
				cmd, rest, err := newRoot().Find(words)
				if err == nil {
					err = cmd.ParseFlags(rest)
				}
				if err != nil {
					t.Errorf("%s: %s: %v", file, strings.TrimSpace(line), err)
				}
			}
		}
	}
}

func TestEachCommandHasAnExample(t *testing.T) {
	for _, cmd := range newRoot().Commands() {
		if cmd.Example == "" && cmd.Name() != "help" && cmd.Name() != "completion" && !cmd.Hidden {
			t.Errorf("kilter %s --help shows no example", cmd.Name())
		}
	}
}
