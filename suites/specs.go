package suites

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/onsi/ginkgo/v2"
	"github.com/onsi/ginkgo/v2/formatter"
	"github.com/onsi/ginkgo/v2/reporters"
	"github.com/onsi/ginkgo/v2/types"
	"github.com/onsi/gomega"
)

// AcceptanceReport is ginkgo's report on a suite.
type AcceptanceReport = types.Report

// failing is what ginkgo needs in the place of a *testing.T: it only ever says that the suite failed, which the
// verdict says too.
type failing struct{}

func (failing) Fail() {}

// RunAcceptance runs the acceptance suite outside go test, in silence, and returns ginkgo's report.
// ginkgo runs one suite a process.
func RunAcceptance(ctx context.Context, strict bool, cases ...Case) AcceptanceReport {
	gomega.RegisterFailHandler(ginkgo.Fail)
	for i := range cases {
		play := cases[i].Play
		cases[i].Play = func(inner context.Context) (*Outcome, error) {
			// The command's own context ends a run too, so that Ctrl-C is obeyed at once.
			both, cancel := context.WithCancel(inner)
			defer cancel()
			defer context.AfterFunc(ctx, cancel)()
			return play(both)
		}
	}
	Accept(strict, cases...)
	var report AcceptanceReport
	ginkgo.ReportAfterSuite("keep the report", func(r ginkgo.Report) { report = r })
	suite, reporter := ginkgo.GinkgoConfiguration()
	suite.Timeout = 240 * time.Hour // a run in real pace may be long; each scenario ends by itself
	reporter.Succinct, reporter.NoColor = true, true
	formatter.ColorableStdOut, formatter.ColorableStdErr = io.Discard, io.Discard
	ginkgo.RunSpecs(failing{}, "kilter acceptance", suite, reporter)
	return report
}

// WriteJUnit writes a suite's report as JUnit XML without the times and places of this machine,
// so that equal runs give equal bytes.
func WriteJUnit(path string, r AcceptanceReport) error {
	r.SuitePath, r.SuiteConfig.RandomSeed = "", 0
	r.StartTime, r.EndTime, r.RunTime = time.Time{}, time.Time{}, 0
	specs := make(types.SpecReports, 0, len(r.SpecReports))
	for _, s := range r.SpecReports {
		if s.LeafNodeType != types.NodeTypeIt {
			continue
		}
		s.StartTime, s.EndTime, s.RunTime = time.Time{}, time.Time{}, 0
		s.SpecEvents = nil
		s.LeafNodeLocation, s.ContainerHierarchyLocations = types.CodeLocation{}, nil
		s.Failure.Location, s.Failure.FailureNodeLocation = types.CodeLocation{}, types.CodeLocation{}
		s.Failure.TimelineLocation = types.TimelineLocation{}
		specs = append(specs, s)
	}
	r.SpecReports = specs
	temp, err := os.MkdirTemp("", "kilter-junit-")
	if err != nil {
		return fmt.Errorf("junit: %w", err)
	}
	defer os.RemoveAll(temp)
	half := filepath.Join(temp, "junit.xml")
	if err := reporters.GenerateJUnitReport(r, half); err != nil {
		return fmt.Errorf("junit: %w", err)
	}
	text, err := os.ReadFile(half)
	if err != nil {
		return fmt.Errorf("junit: %w", err)
	}
	return WriteWhole(path, text)
}

// Panicked tells the first panic of a suite that did not come to its end.
func Panicked(r AcceptanceReport) string {
	for _, s := range r.SpecReports {
		if s.State.Is(types.SpecStatePanicked) {
			return "the bench panicked: " + s.Failure.ForwardedPanic + "\n" + s.Failure.Location.FullStackTrace
		}
	}
	return "the suite ended before the rest"
}
