package scenarios

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

const badFolder = "../testdata/bad/"

// loadAny reads a file of either kind: those whose name begins with site- are
// sites.
func loadAny(path string) error {
	var err error
	if strings.HasPrefix(filepath.Base(path), "site-") {
		_, err = LoadSite(path)
	} else {
		_, err = LoadScenario(path)
	}
	return err
}

var _ = Describe("bad input", func() {
	files, _ := filepath.Glob(badFolder + "*.yaml")

	It("is kept in files, each with the error that it deserves beside it", func() {
		Expect(len(files)).To(BeNumerically(">=", 25))
		goldens, _ := filepath.Glob(badFolder + "*.err")
		Expect(goldens).To(HaveLen(len(files)), "a golden without its input, or an input without its golden")
	})

	for _, file := range files {
		It("is refused with one clear line for each fault: "+filepath.Base(file), func() {
			err := loadAny(file)
			Expect(err).To(HaveOccurred())
			var list Errors
			Expect(errors.As(err, &list)).To(BeTrue(), "every error is of the type Errors")
			for _, one := range list {
				Expect(one.File).NotTo(BeEmpty())
				Expect(one.Found).NotTo(BeEmpty())
				Expect(one.Wanted + one.Hint).NotTo(BeEmpty())
				Expect(one.Error()).NotTo(ContainSubstring("\n"))
			}
			got := strings.ReplaceAll(err.Error(), badFolder, "") + "\n"
			golden := strings.TrimSuffix(file, ".yaml") + ".err"
			if *update {
				Expect(os.WriteFile(golden, []byte(got), 0o644)).To(Succeed())
			}
			want, err := os.ReadFile(golden)
			Expect(err).NotTo(HaveOccurred())
			Expect(got).To(Equal(string(want)), "run with -update, inspect the difference, commit only what you understand")
		})
	}

	It("is refused by its size before it is read", func() {
		path := filepath.Join(GinkgoT().TempDir(), "large.yaml")
		Expect(os.WriteFile(path, []byte(strings.Repeat("# nothing\n", maxFileBytes/10+1)), 0o644)).To(Succeed())
		_, err := LoadScenario(path)
		Expect(err).To(MatchError(path + ": found 1048580 bytes, wanted at most 1048576 bytes (1 MiB)"))
	})

	It("is refused when it is a folder, or is not there", func() {
		_, err := LoadScenario(GinkgoT().TempDir())
		Expect(err).To(MatchError(ContainSubstring("found a folder, wanted a file")))
		_, err = LoadSite("nowhere.yaml")
		Expect(err).To(MatchError("nowhere.yaml: found no file that can be read, wanted a scenario or site file"))
	})

	It("is refused when it is nested to exhaust the parser", func() {
		for _, text := range []string{
			"format: 1\nx: " + strings.Repeat("[", 100_000),
			"format: 1\nx: " + strings.Repeat("{a: ", 100_000),
			"format: 1\nx:\n  " + strings.Repeat("- ", 100_000) + "1",
		} {
			_, err := ParseScenario("deep.yaml", []byte(text))
			Expect(err).To(MatchError(ContainSubstring("very deep nesting")))
		}
	})

	It("is refused when one mapping has more keys than the parser can take in time", func() {
		var text strings.Builder
		for i := range maxKeys + 1 {
			fmt.Fprintf(&text, "k%d: 1\n", i)
		}
		_, err := ParseScenario("wide.yaml", []byte(text.String()))
		Expect(err).To(MatchError(ContainSubstring("found very many keys, wanted at most 4000 on one level")))
	})

	It("is not mistaken for such when it is a long list", func() {
		var text strings.Builder
		text.WriteString(shortHead + "must: {import: {below: 18 kW}}\nsky:\n  measured:\n")
		for i := range 3 * maxKeys {
			fmt.Fprintf(&text, "    - at: %d s\n      ghi: 5 W/m2\n", i)
		}
		s, err := ParseScenario("long.yaml", []byte(text.String()))
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Site.Plant.Sky.Irradiance).To(HaveLen(3 * maxKeys))
	})

	It("is named with what is near when a built-in is asked for", func() {
		_, err := Builtin("left-alnoe")
		Expect(err).To(MatchError(ContainSubstring("did you mean left-alone?")))
		_, err = Find("ev-strat")
		Expect(err).To(MatchError(ContainSubstring("did you mean ev-start?")))
		_, err = BuiltinSite("bakery_single")
		Expect(err).To(MatchError(ContainSubstring("did you mean bakery-single?")))
	})
})
