package wrong_test

import (
	"context"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"text/tabwriter"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/cmd/steady/wrong"
	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/criteria"
	"kilter/suites/verdict"
)

var update = flag.Bool("update", false, "rewrite testdata/matrix.txt")

// asWrong makes this test binary run as the wrong controller that it names next, so that the bench can start it as
// the process that it is.
const asWrong = "as-wrong"

func TestMain(m *testing.M) {
	if len(os.Args) > 2 && os.Args[1] == asWrong {
		fault, err := wrong.Sound, error(nil)
		if name := os.Args[2]; name != fault.Name {
			fault, err = wrong.Find(name)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
		os.Exit(fault.Main(os.Args[3:], os.Stderr))
	}
	os.Exit(m.Run())
}

func TestWrong(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "controllers that are wrong on purpose")
}

// play plays a story against a wrong controller.
func play(ctx context.Context, fault wrong.Fault, story string) *suites.Outcome {
	GinkgoHelper()
	skipShort()
	self, err := os.Executable()
	Expect(err).NotTo(HaveOccurred())
	sc, err := scenarios.Builtin(story)
	Expect(err).NotTo(HaveOccurred())
	out, err := suites.Play(ctx, sc, suites.Options{
		Pace: emulator.Stepped, Log: GinkgoWriter,
		Controller: suites.Controller{Name: "wrong/" + fault.Name, Command: []string{self, asWrong, fault.Name}},
	})
	Expect(err).NotTo(HaveOccurred())
	return out
}

// skipShort leaves out what takes minutes under the race detector, and has nothing to race: each controller polls in
// one goroutine.
func skipShort() {
	if testing.Short() {
		Skip("left out by -short")
	}
}

// breaches are the criteria that a run violated, and when each was first; a controller that ended by itself counts as
// one too.
func breaches(out *suites.Outcome) map[string]time.Duration {
	found := map[string]time.Duration{}
	at := func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	for _, r := range out.Results {
		if r.Status == criteria.Failed {
			found[r.Name] = at(r.FirstBreachS)
		}
	}
	if e := out.Run.Error; e != nil && e.Kind == verdict.ControllerDied {
		s, _ := e.AtS.Value()
		found[wrong.Alive] = at(s)
	}
	return found
}

var _ = Describe("the wrong controllers", func() {
	It("are many, and each says in one sentence what it does", func() {
		all := wrong.All()
		Expect(len(all)).To(BeNumerically(">=", 40))
		for i, f := range all {
			Expect(f.Does).To(MatchRegexp(`^[a-z][^.;]{10,120}$`), f.Name)
			Expect(f.Name).To(MatchRegexp(`^[a-z0-9]+(-[a-z0-9]+)*$`))
			Expect(f.From).To(BeNumerically("<", f.To), f.Name)
			if i > 0 {
				Expect(f.Name).NotTo(Equal(all[i-1].Name))
			}
		}
	})

	It("trip each criterion between them", func() {
		named := map[string]bool{}
		for _, f := range wrong.All() {
			named[suites.CriterionOf(f.Criterion)] = true
		}
		for _, c := range suites.Criteria() {
			Expect(named).To(HaveKey(c))
		}
	})

	It("are not found by another name", func() {
		_, err := wrong.Find("right")
		Expect(err).To(MatchError(`no controller is wrong in the way "right"; kilter list shows those that are`))
	})
})

var _ = Describe("each wrong controller", Ordered, ContinueOnFailure, func() {
	found := map[string]map[string]time.Duration{}

	for _, fault := range wrong.All() {
		It(fmt.Sprintf("%s fails %s in %s", fault.Name, fault.Criterion, fault.Story), func(ctx SpecContext) {
			out := play(ctx, fault, fault.Story)
			found[fault.Name] = breaches(out)
			Expect(found[fault.Name]).To(HaveKey(fault.Criterion), fault.Does)
			Expect(found[fault.Name][fault.Criterion]).To(And(BeNumerically(">=", fault.From), BeNumerically("<=", fault.To)))
		})
	}

	It("fails where the matrix says", func() {
		skipShort()
		text := matrix(found)
		AddReportEntry("faults by criteria", text)
		const file = "testdata/matrix.txt"
		if *update {
			Expect(os.WriteFile(file, []byte(text), 0o644)).To(Succeed())
		}
		want, err := os.ReadFile(file)
		Expect(err).NotTo(HaveOccurred())
		Expect(text).To(Equal(string(want)), "look at what has changed; go test ./cmd/steady/wrong -update rewrites %s", file)
	})
})

// matrix shows which criteria each fault violates in its story: # the one that it names, x another.
func matrix(found map[string]map[string]time.Duration) string {
	columns := append(suites.Criteria(), wrong.Alive)
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 1, ' ', 0)
	fmt.Fprintf(w, "FAULT\tSTORY\t%s\n", strings.Join(columns, "\t"))
	for _, f := range wrong.All() {
		cells := make([]string, len(columns))
		broken := map[string]bool{}
		for name := range found[f.Name] {
			broken[suites.CriterionOf(name)] = true
		}
		for i, c := range columns {
			is := broken[c]
			switch {
			case is && c == suites.CriterionOf(f.Criterion):
				cells[i] = "#"
			case is:
				cells[i] = "x"
			default:
				cells[i] = "."
			}
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", f.Name, f.Story, strings.Join(cells, "\t"))
	}
	w.Flush()
	lines := strings.Split(b.String(), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n")
}

var _ = Describe("the design with set points", func() {
	stories := map[string]bool{}
	for _, f := range wrong.All() {
		if f.SetPoints() {
			stories[f.Story] = true
		}
	}
	names := make([]string, 0, len(stories))
	for name := range stories {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, story := range names {
		It("passes without a fault: "+story, func(ctx SpecContext) {
			Expect(breaches(play(ctx, wrong.Sound, story))).To(BeEmpty())
		})
	}
})
