package suites_test

import (
	"slices"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites"
)

var _ = Describe("what is remembered", func() {
	It("is the last of many things, in their order", func() {
		r := suites.NewRing(3)
		Expect(slices.Collect(r.All())).To(BeEmpty())
		for i := range 8 {
			r.Push(i)
			Expect(slices.Collect(r.All())).To(Equal([]int{0, 1, 2, 3, 4, 5, 6, 7}[max(0, i-2) : i+1]))
		}
	})
})
