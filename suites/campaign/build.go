package campaign

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"runtime"
	"runtime/debug"
	"sync"
)

// Build names this program's version and processor. Two programs of one build play a run alike: it is the revision that
// the program was built from, and where that is not known, or was changed, the program's own bytes decide.
var Build = sync.OnceValue(func() string {
	revision, changed := "", true
	if info, is := debug.ReadBuildInfo(); is {
		for _, s := range info.Settings {
			switch s.Key {
			case "vcs.revision":
				revision = s.Value[:min(len(s.Value), 12)]
			case "vcs.modified":
				changed = s.Value == "true"
			}
		}
	}
	switch {
	case revision == "":
		revision = "program " + ownSum()
	case changed:
		revision += "+" + ownSum()
	}
	return revision + " " + runtime.GOOS + "/" + runtime.GOARCH
})

// ownSum is the beginning of the SHA-256 of this program.
func ownSum() string {
	self, err := os.Executable()
	if err != nil {
		return "unknown"
	}
	file, err := os.Open(self)
	if err != nil {
		return "unknown"
	}
	defer file.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, file); err != nil {
		return "unknown"
	}
	return hex.EncodeToString(sum.Sum(nil)[:6])
}
