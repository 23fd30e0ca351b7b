package falsify_test

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/scenarios"
	"kilter/suites/campaign"
	"kilter/suites/falsify"
	"kilter/suites/queue"
)

// benchmarked are controllers that are wrong on purpose, and pass calm-start as it stands.
var benchmarked = []string{
	"discards-outliers", "gives-up", "grid-sign-flipped", "halves", "ignores-scale-factor", "kw-for-w", "lets-leases-lapse", "never-enables",
	"never-releases", "old-grid-reading", "one-at-a-time", "one-charges-the-other", "reads-seldom", "retries-without-a-pause", "sign-flipped", "unsigned", "winds-up",
	"word-order", "wraps-at-32767", "whole-kilowatts", "charges-one-only", "dies-of-an-exception", "wakes-late",
}

const (
	benchmarkSeeds  = 5
	benchmarkBudget = 400
)

// This takes an hour or so: KILTER_FALSIFY names a folder that keeps what has been played, and takes the table.
var _ = Describe("the adaptive search", func() {
	It("takes fewer runs than chance, in the mean, to the first counterexample of controllers that are wrong on purpose", func(ctx SpecContext) {
		folder := os.Getenv("KILTER_FALSIFY")
		if folder == "" {
			Skip("KILTER_FALSIFY names no folder: the comparison of the searches is for those who change them")
		}
		Expect(os.MkdirAll(folder, 0o755)).To(Succeed())
		q, err := queue.Open(ctx, queue.Options{Folder: filepath.Join(folder, "queue")})
		Expect(err).NotTo(HaveOccurred())
		defer q.Close()
		self, err := os.Executable()
		Expect(err).NotTo(HaveOccurred())
		s, err := campaign.Open(ctx, q, "searches", campaign.Options{Slots: 2, Player: &campaign.Player{Self: []string{self}}})
		Expect(err).NotTo(HaveOccurred())
		defer s.Close()

		names := benchmarked
		if only := os.Getenv("KILTER_FALSIFY_ONLY"); only != "" {
			names = strings.Split(only, ",")
		}
		table, err := os.Create(filepath.Join(folder, "searches.md"))
		Expect(err).NotTo(HaveOccurred())
		defer table.Close()
		out := io.MultiWriter(table, GinkgoWriter)
		fmt.Fprintln(out, "| controller | adaptive | random | ratio | fails on |\n| --- | --- | --- | --- | --- |")
		methods := []falsify.Method{falsify.Random, falsify.Adaptive}
		runs := make([][2][]int, len(names))
		clauses := make([]map[string]bool, len(names))
		for i, name := range names {
			clauses[i] = map[string]bool{}
			for m, method := range methods {
				for seed := range uint64(benchmarkSeeds) {
					n, clause := untilFound(ctx, s, name, method, seed+1)
					runs[i][m] = append(runs[i][m], n)
					clauses[i][clause] = true
				}
				fmt.Fprintln(os.Stderr, method, name, runs[i][m])
			}
		}
		var all [2][]int
		var ratios []float64
		for i, name := range names {
			for m := range methods {
				slices.Sort(runs[i][m])
				all[m] = append(all[m], runs[i][m]...)
			}
			r, a := runs[i][0][benchmarkSeeds/2], runs[i][1][benchmarkSeeds/2]
			ratios = append(ratios, float64(a)/float64(r))
			var list []string
			for c := range clauses[i] {
				list = append(list, c)
			}
			slices.Sort(list)
			fmt.Fprintf(out, "| %s | %d (%s) | %d (%s) | %.2f | %s |\n", name, a, spread(runs[i][1]), r, spread(runs[i][0]), float64(a)/float64(r), strings.Join(list, ", "))
		}
		for m := range all {
			slices.Sort(all[m])
		}
		slices.Sort(ratios)
		r, a := all[0][len(all[0])/2], all[1][len(all[1])/2]
		fmt.Fprintf(out, "| all | %d (%s) | %d (%s) | %.2f | |\n\nmean runs %.1f and %.1f, median of the ratios %.2f\n", a, spread(all[1]), r, spread(all[0]), float64(a)/float64(r),
			mean(all[1]), mean(all[0]), ratios[len(ratios)/2])
		Expect(mean(all[1])).To(BeNumerically("<", mean(all[0])))
	})
})

// untilFound is how many runs a search takes to the first counterexample, or its budget.
func untilFound(ctx SpecContext, s *campaign.Session, name string, method falsify.Method, seed uint64) (int, string) {
	GinkgoHelper()
	sc, err := scenarios.Builtin("calm-start")
	Expect(err).NotTo(HaveOccurred())
	w, err := scenarios.FindWithin("bakery")
	Expect(err).NotTo(HaveOccurred())
	p, err := falsify.NewProblem(sc, w, campaign.Controller{Policy: "wrong/" + name})
	Expect(err).NotTo(HaveOccurred())
	h, err := falsify.Find(ctx, p, s.Do, falsify.Options{Budget: benchmarkBudget, Seed: seed, Method: method})
	Expect(err).NotTo(HaveOccurred())
	if len(h.Cases) == 0 {
		return benchmarkBudget, "none"
	}
	Expect(h.Cases[0].Run).To(BeNumerically(">", 1), "%s fails as the scenario stands", name)
	return h.Cases[0].Run, h.Cases[0].Clause
}

func spread(sorted []int) string { return fmt.Sprintf("%d to %d", sorted[0], sorted[len(sorted)-1]) }

func mean(list []int) float64 {
	sum := 0
	for _, n := range list {
		sum += n
	}
	return float64(sum) / float64(len(list))
}
