package scenarios

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// ranges are a small file of them for calm-start.
const ranges = `format: 1
within: A little of everything
parameters:
  charge: {range: 20 % to 90 %, plain: as it stands}
  load: {range: 500 W to 5 kW, plain: 700 W, scale: logarithmic, steps_of: 100 W}
  load_at: {range: 2 min to 9 min}
  fault: {words: [none, silent, busy], plain: none}
changes:
  - {place: north.battery.soc, value: $charge}
  - happens: {at: $load_at, base: {power: $load}, text: from $load_at on $load}
  - happens: {at: 6 min, south: {fault: $fault, lasts: 20 s}}
  - {place: must.settle.within, value: 2 min}
`

var _ = Describe("ranges within which a scenario varies", func() {
	form := func() *Form {
		GinkgoHelper()
		sc, err := Builtin("calm-start")
		Expect(err).NotTo(HaveOccurred())
		f, err := NewForm(sc)
		Expect(err).NotTo(HaveOccurred())
		return f
	}
	fit := func(text string) *Within {
		GinkgoHelper()
		w, err := ParseWithin("ranges.yaml", []byte(text))
		Expect(err).NotTo(HaveOccurred())
		w, err = w.Fit(form())
		Expect(err).NotTo(HaveOccurred())
		return w
	}

	It("make of a point a scenario in which each parameter has its value", func() {
		w := fit(ranges)
		Expect(w.Values([]float64{1, 0.5, 0, 0.5})).To(Equal([]string{"90 %", "1.6 kW", "2 min", "silent"}), "the middle of a tenfold is its square root")
		sc, err := form().With(w.Changes([]float64{1, 0.5, 0, 0.5})...)
		Expect(err).NotTo(HaveOccurred())
		Expect(sc.Site.Plant.Inverters[0].Battery.InitialSOC).To(Equal(0.9))
		Expect(sc.Events[0].Text).To(Equal("from 2 min on 1.6 kW"))
		Expect(sc.Events[2].Link.Lasts.Seconds()).To(Equal(20.0))
		Expect(sc.Must.Settle.Within.Minutes()).To(Equal(2.0))
	})

	It("are the scenario as it stands at the plain point, and for all built-in ones", func() {
		for _, name := range WithinNames() {
			w, err := FindWithin(name)
			Expect(err).NotTo(HaveOccurred())
			w, err = w.Fit(form())
			Expect(err).NotTo(HaveOccurred())
			Expect(w.Changes(w.Plain())).To(BeEmpty())
			for k := range w.Parameters {
				p := &w.Parameters[k]
				Expect(p.About != "" || strings.HasSuffix(p.Name, "_at") || strings.HasSuffix(p.Name, "_lasts")).To(BeTrue(), p.Name)
			}
		}
		Expect(fit(ranges).Changes(fit(ranges).Plain())).To(BeEmpty())
	})

	It("change nothing but what depends on parameters that are off their plain values", func() {
		w := fit(ranges)
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			x := w.Plain()
			touched := map[string]bool{}
			for k := range x {
				if rapid.Bool().Draw(t, "touch") {
					x[k] = rapid.Float64Range(0, 1).Draw(t, "u")
				}
				p := &w.Parameters[k]
				touched[p.Name] = p.plain != "" && p.Value(x[k]) != p.plain
			}
			got := w.Changes(x)
			has := func(path, words string) bool {
				for _, c := range got {
					if c.Path == path && strings.Contains(c.Value, words) {
						return true
					}
				}
				return false
			}
			for _, one := range []struct {
				has, want bool
			}{
				{has("north.battery.soc", "%"), touched["charge"]}, {has("happens.+", "base"), touched["load"]},
				{has("happens.+", "south"), touched["fault"]}, {has("must.settle.within", "2 min"), touched["charge"] || touched["load"] || touched["fault"]},
			} {
				if one.has != one.want {
					t.Fatalf("%v of %v", got, w.Values(x))
				}
			}
			matters := w.Matters(x)
			if matters[2] != touched["load"] {
				t.Fatalf("load_at matters %v of %v", matters[2], w.Values(x))
			}
		})
	})

	It("give values that a file shows in few digits, each read back as itself, the plain one too", func() {
		w := fit(ranges)
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			k := rapid.IntRange(0, 2).Draw(t, "k")
			p := &w.Parameters[k]
			u := rapid.Float64Range(0, 1).Draw(t, "u")
			v, wanted, _ := p.dim.parse(p.Value(u))
			if wanted != "" || len(p.Value(u)) > 9 || v < p.low || v > p.high {
				t.Fatalf("%s of %s", p.Value(u), p.Name)
			}
			if again := p.Value(p.coordinate(v)); again != p.Value(u) {
				t.Fatalf("%s is read back as %s", p.Value(u), again)
			}
			for _, c := range p.Coarser(u) {
				if len(p.Value(c)) > len(p.Value(u)) {
					t.Fatalf("%s is no rounder than %s", p.Value(c), p.Value(u))
				}
			}
		})
		u, is := w.Parameters[1].Plain()
		Expect(is).To(BeTrue())
		Expect(w.Parameters[1].Value(u)).To(Equal("700 W"))
		_, is = w.Parameters[2].Plain()
		Expect(is).To(BeFalse(), "it only says when")
	})

	It("say at their line what does not fit a scenario", func() {
		for change, want := range map[string][2]string{
			"north.battery.soc": {"nort.battery.soc", "ranges.yaml:9:5: changes[1]: found nothing at nort.battery.soc of calm-start, wanted a place that has a value"},
			"range: 20 %":       {"range: 60 %", "found north.battery.soc of calm-start at 50 %, wanted 60 % to 90 %"},
			"base: {power":      {"bass: {power", "ranges.yaml:10:14: changes[2].happens: found a change that does not fit calm-start, wanted one that does (calm-start with happens.+="},
		} {
			w, err := ParseWithin("ranges.yaml", []byte(strings.Replace(ranges, change, want[0], 1)))
			Expect(err).NotTo(HaveOccurred())
			_, err = w.Fit(form())
			Expect(err).To(MatchError(ContainSubstring(want[1])))
		}
	})

	It("are found by name or as a file", func() {
		_, err := FindWithin("bakry")
		Expect(err).To(MatchError(ContainSubstring("did you mean bakery?")))
		_, err = FindWithin("nowhere.yaml")
		Expect(err).To(MatchError("nowhere.yaml: found no file that can be read, wanted a file of ranges, as kilter falsify --help shows one"))
		path := filepath.Join(GinkgoT().TempDir(), "mine.yaml")
		Expect(os.WriteFile(path, []byte(ranges), 0o644)).To(Succeed())
		w, err := FindWithin(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Name).To(Equal("mine"))
	})

	files, _ := filepath.Glob(badFolder + "within/*.yaml")
	It("are refused in files that have the errors beside them", func() { Expect(len(files)).To(BeNumerically(">=", 4)) })
	for _, file := range files {
		It("are refused with one clear line for each fault: "+filepath.Base(file), func() {
			data, err := os.ReadFile(file)
			Expect(err).NotTo(HaveOccurred())
			_, err = ParseWithin(filepath.Base(file), data)
			var list Errors
			Expect(errors.As(err, &list)).To(BeTrue(), "every error is of the type Errors")
			got := fmt.Sprintln(err)
			golden := strings.TrimSuffix(file, ".yaml") + ".err"
			if *update {
				Expect(os.WriteFile(golden, []byte(got), 0o644)).To(Succeed())
			}
			want, err := os.ReadFile(golden)
			Expect(err).NotTo(HaveOccurred())
			Expect(got).To(Equal(string(want)), "run with -update, inspect the difference, commit only what you understand")
		})
	}
})
