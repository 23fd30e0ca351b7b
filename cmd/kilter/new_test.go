package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// starterGo builds the Go starter as its user would.
func starterGo(t *testing.T) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "controller")
	if out, err := exec.Command("go", "build", "-o", to, "./starters/go").CombinedOutput(); err != nil {
		t.Fatalf("the Go starter does not build: %v\n%s", err, out)
	}
	return to
}

func TestStartersAreShort(t *testing.T) {
	for _, language := range languages {
		files, err := filepath.Glob("starters/" + language + "/*.*")
		if err != nil {
			t.Fatal(err)
		}
		lines := 0
		for _, f := range files {
			if ext := filepath.Ext(f); ext == ".md" || ext == ".txt" {
				continue
			}
			text, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			lines += strings.Count(string(text), "\n")
		}
		if lines == 0 || lines >= 80 {
			t.Errorf("the %s starter has %d lines, and promises fewer than 80", language, lines)
		}
	}
}
