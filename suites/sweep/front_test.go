package sweep_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/sweep"
	"kilter/suites/verdict"
)

func score(point int, share float64, goals ...float64) sweep.Score {
	s := sweep.Score{Point: point, Runs: 1, Share: verdict.Of(share), Mean: verdict.Of(share)}
	for _, g := range goals {
		s.Goals = append(s.Goals, verdict.Of(g))
	}
	return s
}

func pointsOf(list []sweep.Score) (points []int) {
	for _, s := range list {
		points = append(points, s.Point)
	}
	return points
}

var twoGoals = []sweep.Goal{{Name: "writes_per_hour"}, {Name: "share", More: true}}

var _ = Describe("the front", func() {
	It("has what nothing beats, and neither what fails nor what was not judged", func() {
		list := []sweep.Score{score(0, 0, 10, 0.1), score(1, 0, 20, 0.3), score(2, 0, 20, 0.2), score(3, 0, 5, 0.9), score(4, 0, 1, 1)}
		list[3].Failed = 1
		list[4].Goals[0] = verdict.Number{}
		Expect(pointsOf(sweep.Front(list, twoGoals))).To(Equal([]int{0, 1}))
	})

	It("is the same as by trying each against each", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			goals := []sweep.Goal{{Name: "a", More: rapid.Bool().Draw(t, "more")}, {Name: "b"}, {Name: "c"}}
			small := rapid.Map(rapid.IntRange(0, 4), func(i int) float64 { return float64(i) })
			list := make([]sweep.Score, rapid.IntRange(0, 40).Draw(t, "n"))
			for i := range list {
				list[i] = score(i, 0, small.Draw(t, "a"), small.Draw(t, "b"), small.Draw(t, "c"))
			}
			cost := func(i, k int) float64 {
				v, _ := list[i].Goals[k].Value()
				if goals[k].More {
					return -v
				}
				return v
			}
			want := map[int]bool{}
			for i := range list {
				beaten := false
				for j := range list {
					nowhereWorse, better := true, false
					for k := range goals {
						nowhereWorse = nowhereWorse && cost(j, k) <= cost(i, k)
						better = better || cost(j, k) < cost(i, k)
					}
					beaten = beaten || nowhereWorse && better
				}
				if !beaten {
					want[i] = true
				}
			}
			got := pointsOf(sweep.Front(list, goals))
			if len(got) != len(want) {
				t.Fatalf("found %v, want %v", got, want)
			}
			for _, p := range got {
				if !want[p] {
					t.Fatalf("found %v, want %v", got, want)
				}
			}
		})
	})
})

var _ = Describe("the recommendation", func() {
	It("is what is nearest to the best of all goals at once", func() {
		list := []sweep.Score{score(0, 0, 10, 0.1), score(1, 0, 12, 0.9), score(2, 0, 100, 1)}
		best, is := sweep.Recommend(sweep.Front(list, twoGoals), twoGoals)
		Expect(is).To(BeTrue())
		Expect(best.Point).To(Equal(1))
	})

	It("is without goals what has the largest least share, then the largest mean, then the first", func() {
		list := []sweep.Score{score(0, 0.1), score(1, 0.3), score(2, 0.3), score(3, 0.3)}
		list[2].Mean, list[3].Mean = verdict.Of(0.5), verdict.Of(0.5)
		best, is := sweep.Recommend(sweep.Front(list, nil), nil)
		Expect(is).To(BeTrue())
		Expect(best.Point).To(Equal(2))
	})

	It("is nothing where nothing passes; then there is what fails least", func() {
		list := []sweep.Score{score(0, -0.5), score(1, -0.1), score(2, -1)}
		for i := range list {
			list[i].Failed = 1
		}
		_, is := sweep.Recommend(sweep.Front(list, nil), nil)
		Expect(is).To(BeFalse())
		least, is := sweep.Safest(list)
		Expect(is).To(BeTrue())
		Expect(least.Point).To(Equal(1))
	})
})
