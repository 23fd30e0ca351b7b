package suites_test

import (
	"slices"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/scenarios"
	"kilter/suites"
)

var _ = Describe("the criteria", func() {
	It("are each stated by a built-in story", func() {
		stated := map[string]bool{}
		for _, name := range scenarios.BuiltinNames() {
			sc, err := scenarios.Builtin(name)
			Expect(err).NotTo(HaveOccurred())
			for _, c := range suites.Stated(sc) {
				stated[suites.CriterionOf(c)] = true
			}
		}
		Expect(suites.Criteria()).To(HaveLen(19))
		for _, c := range suites.Criteria() {
			Expect(stated).To(HaveKey(c))
		}
	})

	It("are judged in the order in which they are told, each once", func() {
		sc := everything("calm-start")
		all := suites.Stated(sc)
		Expect(slices.Compact(slices.Sorted(slices.Values(all)))).To(HaveLen(len(all)))
		out := alone("calm-start", func(s *scenarios.Scenario) { s.Must = sc.Must })
		Expect(out.Results).To(HaveLen(len(all)))
		for i, r := range out.Results {
			Expect(r.Name).To(Equal(all[i]))
			Expect(out.Run.Criteria[i].Columns).NotTo(BeEmpty(), "a reader is told where to look: "+r.Name)
			Expect(out.Run.Criteria[i].Formula).NotTo(BeEmpty(), r.Name)
			Expect(out.Run.Criteria[i].Clauses).NotTo(BeEmpty(), r.Name)
		}
	})
})
