package fieldlog

import (
	"os"
	"path/filepath"
	"testing"
)

// FuzzLog reads anything as a log, with the map that is proposed for it: whatever it is, it gives a log or an error.
func FuzzLog(f *testing.F) {
	for _, name := range []string{"clean.csv", "utf16.csv", "counters.csv", "preamble.csv", "clock-alone.csv", "decimal-comma.csv", "clean.parquet", "units-below.csv"} {
		text := defects()[name]
		if filepath.Ext(name) == ".csv" {
			text = text[:min(len(text), 1500)]
		}
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		file := filepath.Join(t.TempDir(), "log")
		if err := os.WriteFile(file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		if l, err := use(file); err == nil {
			Check(l)
		}
	})
}
