package physics

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// finest is the bakery with every finer model on.
func finest() Site {
	s := bakery()
	s.Supply.ResistanceOhm, s.Supply.ReactanceOhm, s.Supply.NeutralOhm, s.Supply.NeutralXOhm = 0.24, 0.15, 0.16, 0.10
	s.Supply.FuseA, s.Supply.FuseMelts, s.Supply.FusePosition = 63, true, 0.5
	class, ct := MeterClass1, CTClass05
	for i := range s.Meters {
		s.Meters[i].Class, s.Meters[i].CTClass, s.Meters[i].PerPhase = &class, &ct, true
	}
	answer := &ResponseParams{
		VoltWatt: VoltWatt1547(), VoltWattResponseS: 5, VoltVar: VoltVarCategoryB(), VoltVarResponseS: 5,
		Frequency: FrequencyParams{Droop: LFSMDefault(), DelayS: 0.5, ResponseS: 2}, Trips: TripStagesG98G99(230),
		Enter: EnterServiceParams{LowV: 200, HighV: 255, LowHz: 49, HighHz: 51, DelayS: 60, RampPerS: 0.01},
	}
	for i := range s.Inverters {
		v := &s.Inverters[i]
		v.EfficiencyForm, v.SelfConsumptionW, v.StandbyW, v.ResolutionW, v.MinimumW = PartLoadEfficiency, 30, 5, 1, 20
		v.ChangeoverS, v.Response = 1, answer
		v.Battery.Cell = &CellParams{OCV: Curve{{0, 3.0}, {0.1, 3.45}, {0.9, 3.6}, {1, 4.1}}, CapacityAh: 100,
			R0Ohm: 0.001, R1Ohm: 0.0008, C1F: 40000, MaxV: 4.15, MinV: 2.8, MaxChargeA: 150, MaxDischA: 150, CutoffA: 1, Series: 28}
		v.Battery.StandbyW = 8
		v.Battery.Thermal = &ThermalParams{CapacityJpK: 50_000, ResistanceKpW: 0.3, AmbientC: 15, InitialC: 15,
			Derating: Derating{Charge: Curve{{0, 0}, {10, 1}, {45, 1}, {55, 0}}}}
		v.Battery.Report = &ReportParams{Resolution: 0.01, LagS: 5, GainError: 0.02, RecalibrateHigh: 0.99}
	}
	s.Arrays[0].Response, s.Arrays[0].RatedEfficiency = answer, 0.96
	s.Loads[3].PowerFactor = 0.85
	s.Sky.ClearSky, s.Sky.Diffuse = IneichenPerez, HayDavies
	return s
}

// hashOfDay plays 24 h of a site with clouds, a van and switching, and hashes the bits of every power in every tick (FNV-1a).
func hashOfDay(s Site) uint64 {
	p, err := New(s)
	if err != nil {
		panic(err)
	}
	h := uint64(0xcbf29ce484222325)
	mix := func(v float64) { h = (h ^ math.Float64bits(v)) * 0x100000001b3 }
	p.Apply(FieldClouds())
	for p.TimeMS() < 86_400_000 {
		switch p.TimeMS() {
		case 5 * 3600_000:
			p.Apply(SwitchLoad{Load: 3, On: true})
		case 8 * 3600_000:
			p.Apply(PlugIn{CurrentA: 16, EnergyWh: 20000})
		case 15 * 3600_000:
			p.Apply(SetGridFrequency{FrequencyHz: 50.4})
		case 16 * 3600_000:
			p.Apply(SetGridFrequency{FrequencyHz: 50})
			p.Apply(SwitchLoad{Load: 3, On: false})
		}
		p.Step()
		mix(p.GridW)
		for i := range p.Inverters {
			mix(p.Inverters[i].PowerW)
			mix(p.Inverters[i].Battery.SOC)
		}
		mix(p.Arrays[0].PowerW)
		mix(p.Meters[0].ReadingW)
	}
	return h
}

// TestDayHash prints the hashes that the spec below compares between processors.
func TestDayHash(t *testing.T) {
	if os.Getenv("KILTER_DAY_HASH") == "" {
		t.Skip("called by the spec of bit identity only")
	}
	fmt.Printf("day %016x finest %016x\n", hashOfDay(bakery()), hashOfDay(finest()))
}

var _ = Describe("bit identity", func() {
	It("gives the same day on amd64 with and without fused instructions, and on arm64", Label("slow"), func() {
		if testing.Short() {
			Skip("it builds for three processors; left out by -short")
		}
		tool, err := exec.LookPath("go")
		if err != nil || runtime.GOARCH != "amd64" || runtime.GOOS != "linux" {
			Skip("the go command on linux/amd64 is missing: the plant cannot be built for other processors here")
		}
		qemu, err := exec.LookPath("qemu-aarch64")
		if err != nil {
			Skip("qemu-aarch64 is missing: Debian's package qemu-user brings it")
		}
		dir := GinkgoT().TempDir()
		hash := func(name string, emulator []string, env ...string) string {
			GinkgoHelper()
			binary := filepath.Join(dir, name)
			build := exec.Command(tool, "test", "-c", "-o", binary, ".")
			build.Env = append(append(os.Environ(), "CGO_ENABLED=0"), env...)
			out, err := build.CombinedOutput()
			Expect(err).NotTo(HaveOccurred(), "%s", out)
			words := append(emulator, binary, "-test.run", "^TestDayHash$")
			play := exec.Command(words[0], words[1:]...)
			play.Env = append(os.Environ(), "KILTER_DAY_HASH=1")
			out, err = play.CombinedOutput()
			Expect(err).NotTo(HaveOccurred(), "%s", out)
			found := regexp.MustCompile(`day [0-9a-f]{16} finest [0-9a-f]{16}`).Find(out)
			Expect(found).NotTo(BeNil(), "%s", out)
			return string(found)
		}
		plain := hash("v1", nil, "GOAMD64=v1")
		Expect(plain).NotTo(ContainSubstring("cbf29ce484222325"))
		if info, err := os.ReadFile("/proc/cpuinfo"); err == nil && strings.Contains(string(info), " fma ") && strings.Contains(string(info), " avx2 ") {
			Expect(hash("v3", nil, "GOAMD64=v3")).To(Equal(plain))
		}
		Expect(hash("arm64", []string{qemu}, "GOARCH=arm64")).To(Equal(plain))
	})
})
