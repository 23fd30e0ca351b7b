package scenarios

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// FuzzLoadScenario feeds any bytes to the reader of scenarios. Nothing may
// panic; what is refused is refused with Errors; what is accepted resolves to
// text that is accepted again.
func FuzzLoadScenario(f *testing.F) {
	for _, pattern := range []string{"builtin/stories/*.yaml", "builtin/sites/*.yaml", badFolder + "*.yaml"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			f.Fatalf("no seeds in %s", pattern)
		}
		for _, file := range files {
			data, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var list Errors
		if _, err := parseSite("fuzz.yaml", data); err != nil && !errors.As(err, &list) {
			t.Fatalf("an error of type %T: %v", err, err)
		}
		s, err := ParseScenario("fuzz.yaml", data)
		if err != nil {
			if !errors.As(err, &list) || len(list) == 0 || len(list) > maxErrors {
				t.Fatalf("an error of type %T: %v", err, err)
			}
			return
		}
		text, err := s.Resolve()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ParseScenario("resolved.yaml", text); err != nil {
			t.Fatalf("%v in\n%s", err, text)
		}
	})
}
