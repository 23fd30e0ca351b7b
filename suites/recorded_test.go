package suites_test

import (
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/trace"
	"kilter/suites"
	"kilter/suites/report"
)

var _ = Describe("a recorded trace", func() {
	It("is drawn as it was written: columns, extremes, units, spacing and start", func() {
		out := alone("calm-start")
		path := filepath.Join(GinkgoT().TempDir(), "trace.parquet")
		Expect(suites.WriteWhole(path, out.Parquet)).To(Succeed())
		s, err := suites.ReadSeries(path, out.Run)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.StepS).To(Equal(1.0))
		Expect(s.StartLocal).To(BeTemporally("==", out.Scenario.Starts))
		byName := map[string]report.Column{}
		for _, c := range s.Columns {
			byName[c.Name] = c
		}
		for _, c := range out.Trace.Columns {
			if c.Kind == trace.State {
				continue
			}
			Expect(byName[c.Name].Values).To(Equal(c.Values), c.Name)
			Expect(byName[c.Name].Min).To(Equal(c.Min), c.Name)
			Expect(byName[c.Name].Max).To(Equal(c.Max), c.Name)
			Expect(byName[c.Name].Unit).To(Equal(c.Unit), c.Name)
		}
		Expect(byName["grid_w"].Label).To(Equal("grid flow"))
		Expect(byName["north_soc"]).To(And(HaveField("Label", "north"), HaveField("Kind", report.SOC)))
	})

	It("is refused where it is none", func() {
		path := filepath.Join(GinkgoT().TempDir(), "trace.parquet")
		Expect(suites.WriteWhole(path, []byte("not a trace at all"))).To(Succeed())
		_, err := suites.ReadSeries(path, alone("calm-start").Run)
		Expect(err).To(MatchError(ContainSubstring("trace.parquet: trace: ")))
	})
})
