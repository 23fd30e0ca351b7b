package sweep_test

import (
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/sweep"
)

var _ = Describe("the table of a sweep", func() {
	It("tells settings that came to the same in one line, by the safest of them", func() {
		list := []sweep.Score{score(0, 0.1, 10, 0.1), score(1, 0.2, 20, 0.3), score(2, 0.3, 20, 0.3), score(3, 0.1, 20, 0.3), score(4, 0.4, 30, 0.9)}
		for i := range list {
			list[i].Settings = []string{string(rune('a' + i))}
		}
		m := sweep.Summary{Knobs: []sweep.Varied{{Name: "MODE"}}, Goals: twoGoals, Front: sweep.Front(list, twoGoals), Passing: 5,
			Recommended: &sweep.Look{Score: list[4], Command: "kilter check x"}}
		var text strings.Builder
		Expect(m.Table(&text)).To(Succeed())
		Expect(text.String()).To(MatchRegexp(`\n +a +10 .*\nwith 2 alike +c +20 .*\nrecommended +e +30 `))
		Expect(text.String()).To(HaveSuffix("\nrun it: kilter check x\n"))
	})

	It("writes a failing share with the sign that people write", func() {
		m := sweep.Summary{Knobs: []sweep.Varied{{Name: "MODE"}}, Recommended: &sweep.Look{Score: score(0, -0.5)}}
		m.Recommended.Settings = []string{"calm"}
		var text strings.Builder
		Expect(m.Table(&text)).To(Succeed())
		Expect(text.String()).To(And(ContainSubstring("worst share −0.500"), Not(ContainSubstring("-0.500"))))
	})
})
