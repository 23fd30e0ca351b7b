package trust_test

import (
	"bytes"
	"context"
	"encoding/csv"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/criteria"
	"kilter/suites/trust"
)

var _ = Describe("A study", func() {
	// The small size of the study that `kilter trust` makes: no false alarm and no miss in it.
	It("finds no false alarm and no miss in a few fresh cases, and the same each time", func(ctx context.Context) {
		run := func() *trust.Study {
			GinkgoHelper()
			study, err := trust.Run(ctx, trust.Options{Seed: trust.Fresh, Stable: 24, Unstable: 18, Progress: GinkgoWriter})
			Expect(err).NotTo(HaveOccurred())
			return study
		}
		study := run()
		totals := study.Totals()
		Expect(totals.Judged).To(BeNumerically(">", 200))
		Expect(totals.False).To(BeZero())
		Expect(totals.Counted).To(BeNumerically(">", 12))
		Expect(totals.Found).To(Equal(totals.Counted))

		var once, again bytes.Buffer
		Expect(study.Write(&once)).To(Succeed())
		Expect(run().Write(&again)).To(Succeed())
		Expect(again.String()).To(Equal(once.String()))
		Expect(once.String()).To(ContainSubstring("No case to list."))

		for _, f := range study.Files() {
			var out bytes.Buffer
			Expect(f.Write(&out)).To(Succeed())
			switch f.Name {
			case "cases.csv":
				rows, err := csv.NewReader(&out).ReadAll()
				Expect(err).NotTo(HaveOccurred())
				Expect(rows).To(HaveLen(1 + 24 + 18))
			case "trust.svg":
				Expect(out.String()).To(ContainSubstring("<svg"))
			}
		}
	})

	It("stops when it is told to", func() {
		ctx, stop := context.WithCancel(context.Background())
		stop()
		_, err := trust.Run(ctx, trust.Options{Seed: 1, Stable: 1000})
		Expect(err).To(MatchError(context.Canceled))
	})

	It("plays one case again by its name, and says what it refuses", func() {
		kind, number, err := trust.ParseName("unstable-3")
		Expect(err).NotTo(HaveOccurred())
		outcome, err := trust.Play(kind, number)(trust.Fresh)
		Expect(err).NotTo(HaveOccurred())
		Expect(outcome.Counted()).To(BeTrue())
		Expect(outcome.Failed("hunting")).To(BeTrue())
		var out bytes.Buffer
		Expect(outcome.Tell(&out)).To(Succeed())
		Expect(out.String()).To(ContainSubstring("hunting: failed"))

		_, _, err = trust.ParseName("wobbly-3")
		Expect(err).To(MatchError(`case "wobbly-3": must be like stable-17 or unstable-3`))
	})

	It("holds a study to both bounds", func() {
		Expect(trust.Totals{Judged: 20000, False: 20, Counted: 500, Found: 495}.Holds()).To(BeTrue())
		Expect(trust.Totals{Judged: 20000, False: 21, Counted: 500, Found: 495}.Holds()).To(BeFalse())
		Expect(trust.Totals{Judged: 20000, False: 20, Counted: 500, Found: 494}.Holds()).To(BeFalse())
	})

	It("lists what was wrong", func() {
		kind, number, err := trust.ParseName("stable-0")
		Expect(err).NotTo(HaveOccurred())
		outcome, err := trust.Play(kind, number)(trust.Fresh)
		Expect(err).NotTo(HaveOccurred())
		outcome.Results[0].Status = criteria.Failed
		study := &trust.Study{Outcomes: []*trust.Outcome{outcome}}
		var out bytes.Buffer
		Expect(study.Write(&out)).To(Succeed())
		Expect(out.String()).To(ContainSubstring("- false alarm: stable-0 ("))
		Expect(study.Totals().False).To(Equal(1))
	})
})
