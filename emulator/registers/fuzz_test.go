package registers_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"kilter/emulator/registers"
)

// FuzzParseMap: whatever the file, parsing ends with a map that works or with an error that has a place.
func FuzzParseMap(f *testing.F) {
	for _, pattern := range []string{"*.yaml", "bad/*.yaml"} {
		files, _ := filepath.Glob(filepath.Join(mapFolder, pattern))
		for _, file := range files {
			src, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(src)
		}
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		m, err := registers.ParseMap("fuzz.yaml", src)
		if err != nil {
			var fault *registers.MapError
			if !errors.As(err, &fault) || fault.Line < 1 || fault.Column < 1 || fault.Found == "" {
				t.Fatalf("error without a place: %#v", err)
			}
			return
		}
		im := registers.NewImage(m, registers.Options{})
		for i := range m.Points {
			p := &m.Points[i]
			dst := make([]uint16, p.Registers)
			if err := im.Read(p.Table, p.Address, dst); err != nil {
				t.Fatalf("%s cannot be read: %v", p.Name, err)
			}
			if p.Writable && p.Table == registers.Holding {
				_ = im.Write(p.Address, dst, func(registers.Command) {})
			}
		}
		m.Describe()
	})
}
