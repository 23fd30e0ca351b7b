package emulator_test

import (
	"context"
	"math/rand/v2"
	"slices"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
)

var _ = Describe("a pace", func() {
	DescribeTable("is read from its word, and has it",
		func(word string, want emulator.Pace) {
			got, err := emulator.ParsePace(word)
			Expect(err).NotTo(HaveOccurred())
			Expect(got).To(Equal(want))
			Expect(emulator.ParsePace(got.String())).To(Equal(want))
		},
		Entry(nil, "stepped", emulator.Stepped), Entry(nil, "real", emulator.Real), Entry(nil, "x1", emulator.Real),
		Entry(nil, "x20", emulator.Pace(20)), Entry(nil, "x0.5", emulator.Pace(0.5)),
	)

	DescribeTable("says what to write instead of a word that is none",
		func(word, want string) {
			_, err := emulator.ParsePace(word)
			Expect(err).To(MatchError(ContainSubstring(want)))
		},
		Entry(nil, "20x", `pace "20x": the x stands before the number, as in x20`),
		Entry(nil, "20", `pace "20": the x stands before the number, as in x20`),
		Entry(nil, "x0", "x needs a number from 0.001 to 1000000; as fast as the machine allows is stepped"),
		Entry(nil, "x-3", "x needs a number from 0.001"),
		Entry(nil, "xNaN", "x needs a number from 0.001"),
		Entry(nil, "xInf", "x needs a number from 0.001"),
		Entry(nil, "x", "x and a number, such as x20"),
		Entry(nil, "fast", "must be stepped (time moves while the controller waits), real (with the wall clock)"),
		Entry(nil, "free", "must be stepped"),
	)
})

var _ = Describe("a bench that runs faster than the wall clock", func() {
	It("moves time so many times as fast, and tells how late its steps began", func() {
		sc := story("calm-start")
		sc.Lasts = 20 * time.Second
		b := open(sc, emulator.Options{Pace: 50})
		begun := time.Now()
		Expect(b.Run(context.Background(), nil)).To(Succeed())
		Expect(time.Since(begun)).To(BeNumerically(">=", 400*time.Millisecond), "no step is early")
		l := b.Lateness()
		Expect(l.Steps).To(Equal(int64(200)))
		Expect(l.Step).To(Equal(2 * time.Millisecond))
		Expect(l.P50).To(And(BeNumerically(">", 0), BeNumerically("<=", l.P99)))
		Expect(l.P99).To(BeNumerically("<=", l.Worst))
	})

	It("lets a wait pass as much faster", func() {
		b := open(story("calm-start"), emulator.Options{Pace: 100, Endless: true})
		play(b, nil)
		c := connect(b)
		begun := time.Now()
		Expect(c.wait(60_000)).To(BeTrue())
		Expect(time.Since(begun)).To(BeNumerically(">=", 599*time.Millisecond))
		Expect(b.Traffic().LongestWaitMS).To(Equal(int64(60_000)))
	})

	It("says that it fell behind when its steps come later than the next ones are due", func() {
		Expect(emulator.Lateness{Steps: 100, Step: 5 * time.Millisecond, P99: 6 * time.Millisecond}.FellBehind()).To(BeTrue())
		Expect(emulator.Lateness{Steps: 100, Step: 5 * time.Millisecond, P99: 4 * time.Millisecond, Worst: time.Second}.FellBehind()).To(BeFalse())
		Expect(emulator.Lateness{}.FellBehind()).To(BeFalse())
	})

	It("knows nothing of lateness where no wall clock is followed", func() {
		b := open(story("left-alone"), emulator.Options{})
		Expect(b.Run(context.Background(), nil)).To(Succeed())
		Expect(b.Lateness()).To(BeZero())
	})
})

var _ = Describe("the account of latenesses", func() {
	It("gives quantiles to a sixteenth, and never below the true one", func() {
		random := rand.New(rand.NewPCG(1, 2))
		var p emulator.Punctuality
		var all []time.Duration
		for range 5000 {
			late := time.Duration(1) << random.IntN(40)
			late += time.Duration(random.Int64N(int64(late)))
			all = append(all, late)
			p.Note(late)
		}
		slices.Sort(all)
		for _, part := range []float64{0.01, 0.5, 0.9, 0.99, 1} {
			exact := all[int(part*5000)-1]
			Expect(p.Quantile(part)).To(And(BeNumerically(">=", exact), BeNumerically("<=", exact+exact/16+1)), "%v", part)
		}
	})

	It("counts a step that came early as not late", func() {
		var p emulator.Punctuality
		p.Note(-time.Second)
		Expect(p.Quantile(1)).To(BeZero())
	})
})
