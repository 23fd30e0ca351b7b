package criteria_test

import (
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("Every monitor", func() {
	It("allocates nothing while it observes", func() {
		for _, busy := range []bool{false, true} {
			observe := observer(busy)
			Expect(testing.AllocsPerRun(20000, observe)).To(BeZero())
		}
	})

	It("answers at any time without being changed by it", func() {
		c := stepAnswer(step, func(t float64) float64 { return secondOrder(0.2, 1, t) })
		asked, left := all(step), all(step)
		c.run(time.Minute, asked...)
		for _, m := range asked {
			m.Result()
		}
		c.run(time.Minute, left...)
		for i := range asked {
			Expect(asked[i].Result()).To(Equal(left[i].Result()))
			expectSound(asked[i].Result())
		}
	})

	It("has a name of its own, which its result repeats", func() {
		seen := map[string]bool{}
		for _, m := range all(step) {
			Expect(m.Name()).To(Equal(m.Result().Name))
			Expect(seen).NotTo(HaveKey(m.Name()))
			seen[m.Name()] = true
		}
	})
})
