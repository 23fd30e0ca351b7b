package learn

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/fieldlog"
)

// ordered is a log of one inverter that follows orders of its own kind, whatever the grid flow is.
func ordered(withLog bool) *fieldlog.Log {
	chance := rand.New(rand.NewPCG(5, 6))
	n := 600
	grid, power, command := make([]float64, n), make([]float64, n), make([]float64, n)
	order, y := 0.0, 0.0
	for k := range n {
		if k%15 == 0 {
			order = 3000 * (chance.Float64() - 0.5)
		}
		command[k] = order
		if k >= 2 {
			y = command[k-2] + (y-command[k-2])*math.Exp(-1/0.8)
		}
		power[k] = math.Round(y)
		grid[k] = math.Round(700 + y + 5*chance.NormFloat64())
	}
	l := &fieldlog.Log{File: "ordered.csv", Start: time.Date(2026, 6, 18, 14, 0, 0, 0, time.UTC), StepS: 1, Grid: fieldlog.Signal{Name: "grid", Values: grid, EveryS: 1}}
	u := fieldlog.UnitLog{Name: "north", Power: fieldlog.Signal{Name: "north", Values: power, EveryS: 1}}
	if withLog {
		u.Command = &fieldlog.Signal{Name: "command", Values: command, EveryS: 1}
	}
	l.Units = []fieldlog.UnitLog{u}
	return l
}

var _ = Describe("what makes inverters move", func() {
	It("is a controller where they follow its logged commands, and the scenario then leaves them without loops", func() {
		r, err := Learn(ordered(true), Options{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Cause).To(Equal(Controller))
		Expect(r.CauseText).To(ContainSubstring("north follows its command"))
		Expect(string(r.Files()[SiteFile])).NotTo(ContainSubstring("loop:"))
		folder := GinkgoT().TempDir()
		for name, text := range r.Files() {
			Expect(os.WriteFile(filepath.Join(folder, name), text, 0o644)).To(Succeed())
		}
		_, err = r.Replay(filepath.Join(folder, ScenarioFile))
		Expect(err).NotTo(HaveOccurred())
	})

	It("is unknown where neither their loops nor a log of commands explain it, and a command log is asked for", func() {
		r, err := Learn(ordered(false), Options{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Cause).To(Equal(Unknown))
		Expect(r.CauseText).To(ContainSubstring("log what it commands"))
		Expect(r.Advice()).To(ContainElement(ContainSubstring("Log what the controller commands")))
	})
})

var _ = Describe("a coarse log's rest of the site", func() {
	It("comes with fillings that differ by seed, repeat by seed, and pass through what was logged", func() {
		rest := []float64{100, 110, 95, 2100, 2110, 2080, 300}
		list := jumps(rest)
		at := func(points []point, s float64) float64 {
			for _, p := range points {
				if p.atS == s {
					return p.w
				}
			}
			return math.NaN()
		}
		one, two := filling(rest, 60, list, 1), filling(rest, 60, list, 2)
		Expect(one).NotTo(Equal(two))
		Expect(filling(rest, 60, list, 1)).To(Equal(one))
		for n, w := range rest {
			Expect(at(one, float64(n)*60)).To(Equal(w))
		}
	})
})

var _ = Describe("a battery's figures", func() {
	It("come from the state of charge: capacity and the efficiency there and back", func() {
		const capacity, each = 9000.0, 0.94
		n := 6 * 3600
		power, soc := make([]float64, n), make([]float64, n)
		s := 0.5
		for k := range n {
			power[k] = 2500
			if k/3600%2 == 1 {
				power[k] = -2500 * each * each
			}
			if power[k] > 0 {
				s += power[k] * each / 3600 / capacity
			} else {
				s += power[k] / each / 3600 / capacity
			}
			soc[k] = math.Round(s*200) / 200 // told in half per cent
		}
		u := &fieldlog.UnitLog{Power: fieldlog.Signal{Values: power}, SOC: &fieldlog.Signal{Values: soc}}
		b := battery(u, 1, 0)
		Expect(b.CapacityWh.Identifiable).To(BeTrue())
		Expect(b.CapacityWh.Value).To(BeNumerically("~", capacity, 0.02*capacity))
		Expect(b.Efficiency.Identifiable).To(BeTrue())
		Expect(b.Efficiency.Value).To(BeNumerically("~", each*each, 0.02))
	})

	It("are left at defaults where no state of charge was logged, and say so", func() {
		b := battery(&fieldlog.UnitLog{}, 1, 0)
		Expect(b.CapacityWh.Identifiable).To(BeFalse())
		Expect(b.CapacityWh.Why).To(Equal("no state of charge was logged"))
	})
})
