package cmd_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

const root = ".."

// mayImport is the table of the rooms: which of the project's own packages each may import, test files
// left aside. A room not listed here is a mistake.
var mayImport = map[string][]string{
	"physics":                         {},
	"scenarios":                       {"physics", "suites/formula"},
	"emulator":                        {"physics", "scenarios", "emulator/capture", "emulator/modbus", "emulator/registers"},
	"emulator/capture":                {},
	"emulator/modbus":                 {},
	"emulator/probe":                  {"emulator/modbus", "emulator/registers", "emulator/registers/sunspec"},
	"emulator/registers":              {"emulator/registers/sunspec"},
	"emulator/registers/sunspec":      {},
	"emulator/registers/internal/gen": {"emulator/registers/sunspec"},
	"emulator/trace":                  {"physics", "scenarios"},
	"suites":                          {"physics", "scenarios", "emulator", "emulator/capture", "emulator/registers", "emulator/trace", "suites/criteria", "suites/formula", "suites/verdict", "suites/report"},
	"suites/atlas":                    {"physics"},
	"suites/browser":                  {},
	"suites/campaign":                 {"scenarios", "emulator", "suites", "suites/onecore", "suites/queue", "suites/verdict"},
	"suites/compare":                  {"suites/verdict"},
	"suites/criteria":                 {"suites/formula"},
	"suites/falsify":                  {"scenarios", "suites", "suites/campaign", "suites/report", "suites/search", "suites/shrink", "suites/verdict"},
	"suites/formula":                  {},
	"suites/onecore":                  {},
	"suites/queue":                    {},
	"suites/search":                   {},
	"suites/shrink":                   {"physics", "scenarios"},
	"suites/sweep":                    {"scenarios", "emulator", "suites", "suites/campaign", "suites/report", "suites/search", "suites/verdict"},
	"suites/panel":                    {"physics", "scenarios", "emulator", "emulator/modbus", "emulator/registers", "suites/report", "suites/verdict"},
	"suites/picture":                  {"suites/verdict"},
	"suites/trust":                    {"physics", "suites/criteria"},
	"suites/fieldlog":                 {},
	"suites/learn":                    {"physics", "scenarios", "suites/fieldlog"},
	"suites/verdict":                  {},
	"suites/report":                   {"suites/compare", "suites/verdict"},
	"cmd/kilter":                      {"*"},
	"testdata/another-repository":     {"emulator", "emulator/registers"},
	"cmd/kilter/starters/go":          {},
	"cmd/steady":                      {"cmd/steady/control"},
	"cmd/steady/control":              {},
	"cmd/steady/wrong":                {"cmd/steady/control"},
}

// bans are imports that a room must not have, with the reason.
var bans = map[string]map[string]string{
	"physics": {
		"time":         "simulated time is the tick times the step; the wall clock would shape traces",
		"math/rand":    "each component draws from its own stream",
		"math/rand/v2": "each component draws from its own stream",
		"os":           "the plant does no input or output",
		"io":           "the plant does no input or output",
		"net":          "the plant does no input or output",
		"log":          "the plant does no input or output",
		"sync":         "the plant belongs to one goroutine",
	},
	"suites/criteria": {
		"math/rand": "a verdict is the same each time",
		"os":        "criteria judge what they are shown",
	},
}

// onlyIn are modules that stand behind a seam, so that they can be replaced in a day: the rooms that may import each.
var onlyIn = map[string][]string{
	"github.com/tbrandon/mbserver": {"emulator/modbus"},
	"github.com/goburrow/modbus":   {"cmd/kilter/starters/go", "cmd/steady/control", "emulator/probe"},

	"github.com/chromedp/chromedp": {"suites/browser"},

	"github.com/nats-io/nats.go":               {"suites/queue"},
	"github.com/nats-io/nats.go/jetstream":     {"suites/queue"},
	"github.com/nats-io/nats-server/v2/server": {"suites/queue"},
	"github.com/klauspost/compress/zstd":       {"suites/queue"},

	"github.com/gopacket/gopacket":        {"emulator/capture"},
	"github.com/gopacket/gopacket/layers": {"emulator/capture"},
	"github.com/gopacket/gopacket/pcapgo": {"emulator/capture"},
}

// sources calls f with each Go file that is not a test, and its package's path in the project.
func sources(f func(room, file string, tree *ast.File)) {
	GinkgoHelper()
	files := token.NewFileSet()
	Expect(filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") {
			return err
		}
		tree, err := parser.ParseFile(files, p, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, p)
		f(path.Dir(filepath.ToSlash(rel)), filepath.ToSlash(rel), tree)
		return err
	})).To(Succeed())
}

var _ = Describe("the house", func() {
	It("keeps its top level", func() {
		allowed := []string{"cmd", "emulator", "scenarios", "physics", "suites", "testdata", "go.mod", "go.sum",
			"README.md", "DEVELOPERS.md", "LICENSE", ".ci", ".gitignore", ".git"}
		list, err := os.ReadDir(root)
		Expect(err).NotTo(HaveOccurred())
		for _, e := range list {
			if e.Name() == "kilter" || e.Name() == "kilter-runs" {
				continue // built and run here; ignored by git
			}
			Expect(allowed).To(ContainElement(e.Name()))
		}
	})

	It("imports only what its table allows", func() {
		sources(func(room, file string, tree *ast.File) {
			may, listed := mayImport[room]
			Expect(listed).To(BeTrue(), "%s: the room %s is not in the table", file, room)
			for _, spec := range tree.Imports {
				name, err := strconv.Unquote(spec.Path.Value)
				Expect(err).NotTo(HaveOccurred())
				if own, is := strings.CutPrefix(name, "kilter/"); is && !slices.Contains(may, "*") {
					Expect(may).To(ContainElement(own), "%s imports %s", file, name)
				}
				if why := bans[room][name]; why != "" {
					Fail(file + " imports " + name + ": " + why)
				}
				if seams, has := onlyIn[name]; has {
					Expect(seams).To(ContainElement(room), "%s imports %s, which stands behind a seam", file, name)
				}
			}
		})
	})

	It("has no package that says nothing", func() {
		sources(func(room, file string, _ *ast.File) {
			for _, name := range []string{"util", "utils", "common", "helper", "helpers", "types", "misc"} {
				Expect(strings.Split(room, "/")).NotTo(ContainElement(name), file)
			}
		})
	})

	It("documents every package", func() {
		documented := map[string]bool{}
		sources(func(room, _ string, tree *ast.File) {
			documented[room] = documented[room] || tree.Doc != nil
		})
		for room, is := range documented {
			Expect(is).To(BeTrue(), "package %s has no comment that says what it is for", room)
		}
	})

	It("calls no function of package math in physics whose bits differ between processors", func() {
		differ := []string{"Exp", "Exp2", "Expm1", "Log", "Log2", "Log10", "Log1p", "Pow", "Sin", "Cos", "Sincos", "Tan",
			"Asin", "Acos", "Atan", "Atan2", "Sinh", "Cosh", "Tanh", "Hypot", "Cbrt", "FMA"}
		sources(func(room, file string, tree *ast.File) {
			if room != "physics" {
				return
			}
			ast.Inspect(tree, func(n ast.Node) bool {
				if sel, is := n.(*ast.SelectorExpr); is {
					if pkg, is := sel.X.(*ast.Ident); is && pkg.Name == "math" {
						Expect(differ).NotTo(ContainElement(sel.Sel.Name), "%s calls math.%s: use the package's own", file, sel.Sel.Name)
					}
				}
				return true
			})
		})
	})
})
