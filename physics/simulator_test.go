package physics

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// The netlists under testdata/ngspice say how their results were made; an independent circuit
// simulator solved them.
var _ = Describe("an independent circuit simulator", func() {
	read := func(name string) string {
		GinkgoHelper()
		text, err := os.ReadFile(filepath.Join("testdata", "ngspice", name))
		Expect(err).NotTo(HaveOccurred())
		return string(text)
	}
	number := func(text string) float64 {
		GinkgoHelper()
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		Expect(err).NotTo(HaveOccurred())
		return v
	}
	// results gives the simulator's "name = value" lines.
	results := func(name string) map[string]float64 {
		GinkgoHelper()
		found := map[string]float64{}
		for _, m := range regexp.MustCompile(`(?m)^(\S+)\s*=\s*(\S+)`).FindAllStringSubmatch(read(name), -1) {
			found[m[1]] = number(m[2])
		}
		return found
	}

	It("finds the pulse of a Thevenin cell as the plant's cell does (BA-21 to BA-30)", func() {
		want := results("pulse.txt")
		c, err := NewCell(CellParams{OCV: Curve{{0, 3.7}}, CapacityAh: 1000, R0Ohm: 0.010, R1Ohm: 0.015, C1F: 2000,
			MaxV: 4.2, MinV: 2.5, MaxChargeA: 50, MaxDischA: 50, InitialSOC: 0.5}, 0.01)
		Expect(err).NotTo(HaveOccurred())
		at := map[int]string{1000: "v10", 3000: "v30", 5999: "v5999", 9000: "v90", 12000: "v120", 18000: "v180"}
		seen := 0
		for n := 1; n <= 18000; n++ {
			amps := -10.0
			if n > 6000 {
				amps = 0
			}
			c.Step(amps)
			if name := at[n]; name != "" {
				Expect(c.VoltageV).To(BeNumerically("~", want[name], 2e-6), name)
				seen++
			}
			if n == 6000 {
				Expect(c.R1HeatJ.Value()).To(BeNumerically("~", want["heat_pulse"], 1e-4))
				Expect(c.TerminalJ.Value() + 3.7*600 - 60).To(BeNumerically("~", want["branch_in"], 1e-4))
			}
		}
		Expect(seen).To(Equal(6))
		Expect(c.R1HeatJ.Value()).To(BeNumerically("~", want["heat_pulse"]+want["heat_rest"], 2e-4))
	})

	It("finds the voltage behind a source impedance as the closed forms do (GV-01 to GV-12)", func() {
		netlist, want := read("supply.cir"), results("supply.txt")
		part := func(name string) float64 {
			GinkgoHelper()
			m := regexp.MustCompile(`(?m)^` + name + ` \S+ \S+ (\S+)$`).FindStringSubmatch(netlist)
			Expect(m).NotTo(BeNil(), name)
			return number(m[1])
		}
		const perHenry = 2 * 3.14159265358979323846 * 50
		for _, x := range []struct {
			row  string
			z    Impedance
			p, q float64
		}{
			{"gv01", ReferenceImpedance(), 1000, 0}, {"gv02", ReferenceImpedance(), 3680, 0}, {"gv03", ReferenceImpedance(), 7360, 0},
			{"gv04", ReferenceImpedance(), -3680, 0}, {"gv05", ReferenceImpedance(), -5000, 0}, {"gv06", ReferenceImpedance(), -10000, 0},
			{"gv07", ReferenceImpedance(), -5000, 2180}, {"gv08", ReferencePhaseImpedance(), 3680, 0},
			{"gv09", ReferencePhaseImpedance(), -5000, 0}, {"gv10", ReferencePhaseImpedance(), -10000, 0},
			{"gv11", ReferencePhaseImpedance(), -5000, 2180},
		} {
			v := want["vm("+x.row+")"]
			// The load that the simulator saw is the one of the row, at the voltage that it found.
			Expect(v*v/part("RP"+x.row)).To(BeNumerically("~", x.p, 1e-3), x.row)
			if x.q != 0 {
				Expect(v*v/(perHenry*part("LQ"+x.row))).To(BeNumerically("~", x.q, 1e-3), x.row)
			}
			Expect(part("R"+x.row)).To(Equal(x.z.ResistanceOhm), x.row)
			Expect(perHenry*part("L"+x.row)).To(BeNumerically("~", x.z.ReactanceOhm, 1e-12), x.row)
			Expect(VoltageAtInlet(230, x.z.ResistanceOhm, x.z.ReactanceOhm, x.p, x.q)).To(BeNumerically("~", v, 1e-6), x.row)
		}
		for _, i := range []float64{10, 16, 32} {
			name := "vm(gv12_" + strconv.Itoa(int(i)) + ")"
			Expect(VoltageUnderPhasor(230, ReferenceImpedance(), i, 0)).To(BeNumerically("~", want[name], 1e-6), name)
		}
	})
})
