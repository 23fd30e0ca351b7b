package learn

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/fieldlog"
)

const independentFolder = "../../testdata/learn/"

// stranger is what an inverter of the independent simulation is made of, as its generator keeps it.
type stranger struct {
	Name                                         string
	Gain, Period, Phase, Dead, Lag, Ramp, Offset float64
}

const independentMap = `confirmed: yes
time: {column: "t [s]", form: elapsed s}
grid: [{column: "grid [W]", unit: W, positive: import}]
inverters:
  - {name: north, power: [{column: "north [W]", unit: W, positive: charging}]}
  - {name: south, power: [{column: "south [W]", unit: W, positive: charging}]}
`

// learned reads and learns one of the logs.
func learned(file string) *Result {
	GinkgoHelper()
	t, err := fieldlog.ReadFile(file)
	Expect(err).NotTo(HaveOccurred())
	m, err := fieldlog.ParseMap("independent.yaml", []byte(independentMap))
	Expect(err).NotTo(HaveOccurred())
	l, err := fieldlog.Apply(t, m)
	Expect(err).NotTo(HaveOccurred())
	r, err := Learn(l, Options{})
	Expect(err).NotTo(HaveOccurred())
	return r
}

var _ = Describe("a simulation that is not the bench's, in testdata/learn/independent.py", func() {
	It("is learned within twice the tolerance of the twins", func() {
		called, good := 0, 0
		judge := func(what string, e Estimate, truth, within float64) {
			GinkgoWriter.Printf("%-24s %8.3f for %8.3f, 90 %% %.3f to %.3f, identifiable %v\n", what, e.Value, truth, e.Low, e.High, e.Identifiable)
			if !e.Identifiable {
				return
			}
			called++
			if math.Abs(e.Value-truth) <= within {
				good++
			}
		}
		for site := 1; site <= 4; site++ {
			name := fmt.Sprintf("%sindependent-%d", independentFolder, site)
			text, err := os.ReadFile(name + ".json")
			Expect(err).NotTo(HaveOccurred())
			var truth []stranger
			Expect(json.Unmarshal(text, &truth)).To(Succeed())
			r := learned(name + ".csv")
			Expect(r.Units).To(HaveLen(2))
			Expect(r.Cause).To(Equal(Native))
			for i, l := range r.Units {
				v := truth[i]
				at := fmt.Sprintf("%d %s ", site, v.Name)
				judge(at+"gain", l.Gain, v.Gain/v.Period, 0.3*v.Gain/v.Period)
				judge(at+"dead time + lag", l.Lateness, v.Dead+v.Lag, 1)
				judge(at+"ramp", l.Ramp, v.Ramp, 0.2*v.Ramp)
			}
			judge(fmt.Sprint(site, " offset difference"), Difference(r.Units[0], r.Units[1]), truth[0].Offset-truth[1].Offset, 6)
		}
		Expect(called).To(BeNumerically(">=", 16))
		Expect(share(good, called)).To(BeNumerically(">=", 0.9))
	})

	It("still makes the logs that are kept", func() {
		python := "/usr/bin/python3"
		if exec.Command(python, "-c", "import scipy.integrate").Run() != nil {
			Skip("python3-scipy is missing")
		}
		folder := GinkgoT().TempDir()
		out, err := exec.Command(python, independentFolder+"independent.py", folder).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), "%s", out)
		for site := 1; site <= 4; site++ {
			name := fmt.Sprintf("independent-%d.csv", site)
			a, err := fieldlog.ReadFile(filepath.Join(folder, name))
			Expect(err).NotTo(HaveOccurred())
			b, err := fieldlog.ReadFile(independentFolder + name)
			Expect(err).NotTo(HaveOccurred())
			Expect(a.Rows).To(Equal(b.Rows))
			for c := range a.Columns {
				for n, v := range a.Columns[c].Values {
					// Another release of the integrator may round otherwise.
					Expect(v).To(BeNumerically("~", b.Columns[c].Values[n], 3), "%s row %d", name, n)
				}
			}
		}
	})
})
