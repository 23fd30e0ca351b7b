package atlas

import (
	"bytes"
	"math"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("the atlas", Ordered, func() {
	var pictures []Picture
	var page string
	write := func(all []Picture) string {
		GinkgoHelper()
		var out bytes.Buffer
		Expect(Write(&out, all)).To(Succeed())
		return out.String()
	}
	BeforeAll(func() {
		var err error
		pictures, err = Pictures()
		Expect(err).NotTo(HaveOccurred())
		page = write(pictures)
	})

	// Each row's value and source stand in published*.go and in the picture's source line; its tolerance is that
	// of the catalogue of check values.
	It("meets every value within its tolerance", func() {
		for _, p := range pictures {
			for _, c := range p.Checks {
				Expect(math.IsNaN(c.Model)).To(BeFalse(), "%s: %s %s", p.ID, c.ID, c.What)
				Expect(c.Holds()).To(BeTrue(), "%s: %s %s: value %v, model %v, tolerance %v %s", p.ID, c.ID, c.What, c.Value, c.Model, c.Tolerance, c.Unit)
			}
		}
	})

	It("draws values on every picture, or says why there are none or where they stand", func() {
		for _, p := range pictures {
			drawn, given := 0, 0
			for _, c := range p.Checks {
				if c.drawn() {
					drawn++
				}
				if c.Mark != ByHand {
					given++
				}
			}
			Expect(p.Checks).NotTo(BeEmpty(), p.ID)
			if given == 0 {
				Expect(p.WithoutPoints).NotTo(BeEmpty(), p.ID)
			}
			if drawn == 0 {
				Expect(p.Note).To(ContainSubstring("no place on this paper"), p.ID)
			}
		}
	})

	It("covers the rows that it promises", func() {
		found := map[string]bool{}
		for _, p := range pictures {
			for _, c := range p.Checks {
				found[c.ID] = true
			}
		}
		for _, id := range strings.Fields(`BA-02 BA-03 BA-05 BA-20 BA-21 BA-22 BA-23 BA-24 BA-25 BA-26 BA-27 BA-40 BA-41 BA-42 BA-43 BA-44 RF-01 RF-02 RF-07
			PV-03 PV-04 PV-05 PV-06 PV-07 PV-08 PV-20 PV-21 PV-22 PV-23 PV-24 PV-30 PV-31 PV-32 PV-33 PV-34 PV-36 PV-37 PV-39 PV-40
			PV-50 PV-51 PV-52 PV-53 PV-54 PV-55 GV-01 GV-02 GV-03 GV-04 GV-05 GV-06 GV-07 GV-08 GV-09 GV-10 GV-11 GV-12
			FL-02 FL-03 FL-04 FL-05 FL-06 FL-08 FL-09 GC-01 GC-02 GC-04 GC-05 GC-06 GC-07 GC-09 GC-32 GC-33 GC-34 GC-37 GC-38 GC-39 GC-40
			OC-01 OC-04 OC-05 OC-08 OC-09 OC-15 EV-01 EV-02 EV-03 EV-04 EV-05 EV-09 CT-01 CT-02 CT-03 CT-04 CT-05 CT-07 CT-20 CT-21 CT-22 CT-23 CT-24 CT-25
			ST-05 ST-06 ST-07 ST-12 ST-14 ST-15 ST-16 ST-20 SR-11`) {
			Expect(found).To(HaveKey(id))
		}
	})

	It("gives each picture a title, a chapter, a formula, a source, axes with labels and an anchor of its own", func() {
		seen := map[string]bool{}
		for _, p := range pictures {
			Expect(seen[p.ID]).To(BeFalse(), p.ID)
			seen[p.ID] = true
			for _, text := range []string{p.ID, p.Section, p.Title, p.Formula, p.Source} {
				Expect(text).NotTo(BeEmpty(), p.ID)
			}
			Expect(page).To(ContainSubstring(`href="#` + p.ID + `"`))
			Expect(page).To(ContainSubstring(`<figure id="` + p.ID + `">`))
			for _, panel := range p.Panels {
				Expect(panel.X.Label).NotTo(BeEmpty(), p.ID)
				Expect(panel.Y.Label).NotTo(BeEmpty(), p.ID)
			}
		}
	})

	It("leaves no curve outside its panel, and no point outside either", func() {
		within := func(a Axis, v float64) bool { return a.Min == a.Max || v >= a.Min && v <= a.Max }
		for _, p := range pictures {
			for i, panel := range p.Panels {
				for _, c := range panel.Curves {
					visible := 0
					for k := range c.X {
						if finite(c.Y[k]) && within(panel.X, c.X[k]) && within(panel.Y, c.Y[k]) {
							visible++
						}
					}
					Expect(visible).To(BeNumerically(">", 1), "%s, curve %q", p.ID, c.Name)
				}
				for _, c := range p.Checks {
					if c.Panel == i && c.drawn() {
						Expect(within(panel.X, c.X) && within(panel.Y, c.Y)).To(BeTrue(), "%s, %s at %v, %v", p.ID, c.ID, c.X, c.Y)
					}
				}
			}
		}
	})

	It("gives the same bytes again", func() {
		again, err := Pictures()
		Expect(err).NotTo(HaveOccurred())
		Expect(write(again)).To(Equal(page))
	})

	It("asks nothing of a network, and runs nothing", func() {
		for _, word := range []string{"http:", "https:", "//", "<script", "src=", "@import", "url("} {
			Expect(page).NotTo(ContainSubstring(word))
		}
		Expect(page).To(ContainSubstring(`content="default-src 'none'`))
	})

	It("takes every colour from the style sheet, so that light, dark and paper can each have theirs", func() {
		body := page[strings.Index(page, "<body>"):]
		Expect(body).NotTo(MatchRegexp(`(fill|stroke):#`))
		for i := range hues {
			Expect(page).To(ContainSubstring("var(--c%d)", i))
		}
	})

	// The negative twin of the first spec: a model that is off by more than the tolerance is told.
	It("says so where a value is missed", func() {
		p := pictures[0]
		p.Checks = []Check{{ID: "BA-20", Value: 3.6, Model: 3.7, Tolerance: 1e-6, Unit: "V", X: nan}}
		wrong := write([]Picture{p})
		Expect(wrong).To(ContainSubstring("1 of them are missed by more than their tolerance"))
		Expect(wrong).To(ContainSubstring(`class="verdict bad"`))
		Expect(page).NotTo(ContainSubstring(`class="verdict bad"`))
	})
})

var _ = Describe("a check", func() {
	It("is met within its tolerance, and a bound on its side", func() {
		Expect(Check{Value: 2, Model: 2.5, Tolerance: 0.5}.Holds()).To(BeTrue())
		Expect(Check{Value: 2, Model: 2.6, Tolerance: 0.5}.Holds()).To(BeFalse())
		Expect(Check{Value: 2, Model: 9, Bound: AtLeast}.Holds()).To(BeTrue())
		Expect(Check{Value: 2, Model: 1, Bound: AtLeast}.Deviation()).To(Equal(1.0))
		Expect(Check{Value: 2, Model: 1, Bound: AtMost}.Holds()).To(BeTrue())
		Expect(Check{Value: 2, Model: 3, Bound: AtMost}.Holds()).To(BeFalse())
		Expect(Check{Value: math.Inf(1), Model: math.Inf(1)}.Holds()).To(BeTrue())
		Expect(Check{Value: math.Inf(1), Model: 3600}.Holds()).To(BeFalse())
		Expect(Check{Value: 1, Model: math.NaN(), Tolerance: 1}.Holds()).To(BeFalse())
	})

	It("tells its largest deviation, unit by unit, and how many bounds are kept", func() {
		p := Picture{Checks: []Check{{Value: 1, Model: 1 + 2e-9, Unit: "V"}, {Value: 1, Model: 1, Unit: "V"}, {Value: 3, Model: 2.5, Unit: "s"}, {Value: 1, Model: 2, Bound: AtMost}}}
		Expect(p.LargestDeviation()).To(Equal("Largest deviation from the 3 values: 2e−9\u00a0V; 0.5\u00a0s. Bounds kept: 0 of 1."))
		Expect(Picture{Checks: p.Checks[1:2]}.LargestDeviation()).To(Equal("Deviation from the one value: 0\u00a0V."))
		Expect(Picture{}.LargestDeviation()).To(BeEmpty())
	})

	DescribeTable("writes numbers as people do",
		func(v float64, digits int, text string) { Expect(figure(v, digits)).To(Equal(text)) },
		Entry(nil, 0.0, 3, "0"), Entry(nil, 3600.0, 3, "3600"), Entry(nil, -2.5e-9, 2, "−2.5e−9"), Entry(nil, 0.05, 2, "0.05"), Entry(nil, math.Inf(1), 2, "never"),
	)
})

var _ = Describe("ticks", func() {
	labels := func(low, high float64, log bool) (all []string) {
		if log {
			for _, t := range (logTicks{}).Ticks(low, high) {
				if t.Label != "" {
					all = append(all, t.Label)
				}
			}
			return all
		}
		for _, t := range (evenTicks{most: 6}).Ticks(low, high) {
			all = append(all, t.Label)
		}
		return all
	}

	It("stand at round numbers", func() {
		Expect(labels(-3.2, 3.2, false)).To(Equal([]string{"−2", "0", "2"}))
		Expect(labels(0, 1.1, false)).To(Equal([]string{"0", "0.2", "0.4", "0.6", "0.8", "1.0"}))
		Expect(labels(210, 250, false)).To(Equal([]string{"210", "220", "230", "240", "250"}))
		Expect(labels(0.9, 135, true)).To(Equal([]string{"1", "2", "5", "10", "20", "50", "100"}))
		Expect(labels(0.002, 20000, true)).To(Equal([]string{"0.01", "0.1", "1", "10", "100", "1000", "10000"}))
	})
})
