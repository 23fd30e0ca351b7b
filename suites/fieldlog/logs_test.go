package fieldlog

import (
	"errors"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var update = flag.Bool("update", false, "rewrite testdata/logs")

const folder = "../../testdata/logs/"

// use reads a log as somebody would who confirms what is proposed, or who gives the map beside it.
func use(file string) (*Log, error) {
	t, err := ReadFile(file)
	if err != nil {
		return nil, err
	}
	beside := strings.TrimSuffix(file, filepath.Ext(file)) + ".yaml"
	if _, err := os.Stat(beside); err == nil {
		m, err := ReadMap(beside)
		if err != nil {
			return nil, err
		}
		return Apply(t, m)
	}
	p, err := Propose(t)
	if err != nil {
		return nil, err
	}
	m, err := ParseMap("proposed", []byte(p.Text(filepath.Base(file))))
	if err != nil {
		return nil, err
	}
	return Apply(t, m)
}

// told is what a reader is told of a log, as its .want file keeps it.
func told(file string) string {
	l, err := use(file)
	if err != nil {
		return "refused: " + strings.ReplaceAll(err.Error(), folder, "") + "\n"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "handled: %d samples of %g s from %s, %d inverters\n", l.Samples(), l.StepS, l.Start.Format("2006-01-02 15:04:05 MST"), len(l.Units))
	for _, f := range append(l.Findings, Check(l)...) {
		fmt.Fprintf(&b, "%s: %s\n", f.Level, f)
	}
	return b.String()
}

var _ = Describe("a log with a defect", func() {
	made := defects()
	names := slices.Sorted(maps.Keys(made))

	It("is one of at least 25 kinds", func() {
		Expect(len(names)).To(BeNumerically(">=", 25))
	})

	for _, name := range names {
		It("is handled or refused with a message that says what and where: "+name, func() {
			file := folder + name
			want := strings.TrimSuffix(file, filepath.Ext(file)) + strings.ReplaceAll(filepath.Ext(file), ".", "-") + ".want"
			if *update {
				Expect(os.MkdirAll(folder, 0o755)).To(Succeed())
				Expect(os.WriteFile(file, made[name], 0o644)).To(Succeed())
				Expect(os.WriteFile(want, []byte(told(file)), 0o644)).To(Succeed())
			}
			kept, err := os.ReadFile(want)
			Expect(err).NotTo(HaveOccurred())
			Expect(told(file)).To(Equal(string(kept)), "run with -update and look at the difference")
		})
	}

	// What a defect does not take away must come out as if there were none.
	clean := func() *Log {
		l, err := use(folder + "clean.csv")
		Expect(err).NotTo(HaveOccurred())
		return l
	}
	DescribeTable("gives the same powers as the sound log, but for what is missing",
		func(name string, withinW float64) {
			l, err := use(folder + name)
			Expect(err).NotTo(HaveOccurred())
			c := clean()
			Expect(l.Samples()).To(BeNumerically("~", c.Samples(), 1))
			Expect(l.Units).To(HaveLen(2))
			compared := 0
			for n := range min(l.Samples(), c.Samples()) {
				for _, pair := range [][2]float64{
					{l.Grid.Values[n], c.Grid.Values[n]}, {l.Units[0].Power.Values[n], c.Units[0].Power.Values[n]},
					{l.Units[1].Power.Values[n], c.Units[1].Power.Values[n]},
				} {
					if !math.IsNaN(pair[0]) {
						compared++
						Expect(pair[0]).To(BeNumerically("~", pair[1], withinW), "sample %d", n)
					}
				}
			}
			Expect(compared).To(BeNumerically(">", 200))
		},
		Entry("with its clock set back, in a known zone", "dst-autumn-zoned.csv", 0.0),
		Entry("with its clock set forward, in a known zone", "dst-spring-zoned.csv", 0.0),
		Entry("with the zone in each moment", "zone-in-time.csv", 0.0),
		Entry("with decimal commas", "decimal-comma.csv", 0.0),
		Entry("with the day first", "day-first.csv", 0.0),
		Entry("in kW", "kw.csv", 1e-9),
		Entry("in kW that nobody says", "kw-unsaid.csv", 1e-9),
		Entry("with the grid's sign turned", "reversed-grid.csv", 0.0),
		Entry("with an inverter's sign turned", "reversed-inverter.csv", 0.0),
		Entry("with names that say nothing", "nameless.csv", 0.0),
		Entry("with the grid in three phases", "three-phases.csv", 0.0),
		Entry("in milliseconds since 1970", "epoch-ms.csv", 0.0),
		Entry("in a spreadsheet's days", "spreadsheet-days.csv", 5.0),
		Entry("in seconds since the start", "elapsed.csv", 0.0),
		Entry("with times of day alone, over midnight", "clock-alone.csv", 0.0),
		Entry("with NaN", "nan.csv", 250.0), // a straight line over one missing second
		Entry("with a byte order mark", "bom.csv", 0.0),
		Entry("in UTF-16", "utf16.csv", 0.0),
		Entry("cut in its last line", "truncated.csv", 0.0),
		Entry("with other line ends", "crlf.csv", 0.0),
		Entry("with lines before the header", "preamble.csv", 0.0),
		Entry("with units under the header", "units-below.csv", 0.0),
		Entry("with quotes", "quoted.csv", 0.0),
		Entry("with tabs", "tabs.csv", 0.0),
		Entry("with rows twice", "duplicate-rows.csv", 0.0),
		Entry("with rows out of order", "out-of-order.csv", 0.0),
		Entry("in Parquet", "clean.parquet", 250.0),
	)

	It("is refused by its size before it is read", func() {
		file := filepath.Join(GinkgoT().TempDir(), "huge.csv")
		f, err := os.Create(file)
		Expect(err).NotTo(HaveOccurred())
		Expect(f.Truncate(1 << 30)).To(Succeed())
		Expect(f.Close()).To(Succeed())
		_, err = ReadFile(file)
		Expect(err).To(MatchError(ContainSubstring("huge.csv: found 1.0 GiB, wanted at most 512 MiB (cut out the hours around the oscillation")))
		var fault *Fault
		Expect(errors.As(err, &fault)).To(BeTrue())
	})
})
