package browser

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// ErrNoAxe says that the accessibility rules were not found.
var ErrNoAxe = errors.New("axe-core is missing from the folder that KILTER_NODE_MODULES names")

// Barriers are what axe-core finds on the page that keeps people out, of a serious or critical kind, and how many
// of its rules the page has passed.
func (t *Tab) Barriers() (found []string, passed int, err error) {
	folder := os.Getenv("KILTER_NODE_MODULES")
	script, err := os.ReadFile(filepath.Join(folder, "axe-core", "axe.min.js"))
	if folder == "" || err != nil {
		return nil, 0, ErrNoAxe
	}
	if _, err := Eval[any](t, string(script)+"; 0"); err != nil {
		return nil, 0, fmt.Errorf("axe-core: %w", err)
	}
	type answer struct {
		Found  []string `json:"found"`
		Passed int      `json:"passed"`
	}
	a, err := Eval[answer](t, `axe.run().then(r => ({passed: r.passes.length, found: r.violations.filter(v => ["serious", "critical"].includes(v.impact)).map(
		v => v.id + ": " + v.help + ": " + v.nodes.slice(0, 4).map(n => n.html.slice(0, 160) + " " + (n.any[0]?.message || "")).join(" | "))}))`)
	return a.Found, a.Passed, err
}
