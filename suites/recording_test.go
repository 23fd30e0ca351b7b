package suites_test

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/verdict"
)

// restless commands whatever the devices take, more or less by chance: limits and set points that lapse, refused
// values, modes, and long silences in which leases run out.
func restless(seed uint64) func() emulator.Policy {
	return func() emulator.Policy {
		r := rand.New(rand.NewPCG(seed, 1))
		signals := []registers.Signal{registers.Mode, registers.Setpoint, registers.ChargeLimit, registers.DischargeLimit, registers.OutputLimit, registers.Reserve, registers.MaxCurrent}
		return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
			for range r.IntN(4) {
				devices := c.Bench().Devices
				d, s := devices[r.IntN(len(devices))].Name, signals[r.IntN(len(signals))]
				value := 9000*r.Float64() - 2000
				switch s {
				case registers.Mode:
					value = float64(r.IntN(6))
				case registers.OutputLimit, registers.Reserve:
					value = r.Float64()
				case registers.MaxCurrent:
					value = 32 * r.Float64()
				}
				if c.Write(d, s, value) != nil && r.IntN(2) == 0 {
					c.Release(d, s)
				}
				c.Read(d, registers.SOC)
			}
			return time.Duration(1+r.IntN(120)) * 700 * time.Millisecond, nil
		})
	}
}

// recorded plays a story against a policy and keeps the run in a folder.
func recorded(sc *scenarios.Scenario, policy func() emulator.Policy) (string, *suites.Outcome) {
	GinkgoHelper()
	out, err := suites.Play(GinkgoT().Context(), sc, suites.Options{Pace: emulator.Stepped, Controller: suites.Controller{Name: "restless", Policy: policy}})
	Expect(err).NotTo(HaveOccurred())
	folder := GinkgoT().TempDir()
	Expect(suites.WriteFolder(folder, out)).To(Succeed())
	return folder, out
}

func builtin(name string) *scenarios.Scenario {
	GinkgoHelper()
	sc, err := scenarios.Builtin(name)
	Expect(err).NotTo(HaveOccurred())
	return sc
}

func judgeAgain(folder string, run verdict.Run, limits string) (*suites.Outcome, error) {
	GinkgoHelper()
	r, err := suites.ReadRecording(folder, run, limits)
	if err != nil {
		return nil, err
	}
	return r.Judge(GinkgoT().Context(), suites.Options{})
}

var _ = Describe("a recorded run", func() {
	DescribeTable("moves the plant again bit for bit, whatever was commanded, to the same verdict", func(name string) {
		for seed := range uint64(3) {
			sc := builtin(name)
			folder, out := recorded(sc, restless(seed))
			again, err := judgeAgain(folder, out.Run, "")
			Expect(err).NotTo(HaveOccurred())
			Expect(again.Run.TraceSHA256).To(Equal(out.Run.TraceSHA256))
			Expect(again.Run).To(Equal(out.Run))
			second := GinkgoT().TempDir()
			Expect(suites.WriteFolder(second, again)).To(Succeed())
			for _, file := range []string{"commands.csv", "wire.csv", "writes.csv", "trace.parquet", "verdict.json", "scenario.yaml"} {
				first, err := os.ReadFile(filepath.Join(folder, file))
				Expect(err).NotTo(HaveOccurred())
				Expect(os.ReadFile(filepath.Join(second, file))).To(Equal(first), file)
			}
		}
	},
		Entry("on a calm day", "calm-start"), Entry("with the van", "ev-start"), Entry("with a silent link", "link-silent"),
		Entry("with an outage", "outage"), Entry("with a jump of the state of charge", "soc-jump"),
		Entry("with limits that may have a time", "left-alone"))

	It("is judged again by other criteria than it was recorded with", func() {
		sc := builtin("calm-start")
		folder, out := recorded(sc, restless(3))
		limits := filepath.Join(GinkgoT().TempDir(), "limits.yaml")
		Expect(os.WriteFile(limits, []byte("format: 1\nmust:\n  import: {below: 1 W}\n  command_economy: {writes: 2 /h}\n  wire_manners: {exceptions: 0}\n"), 0o600)).To(Succeed())
		again, err := judgeAgain(folder, out.Run, limits)
		Expect(err).NotTo(HaveOccurred())
		Expect(again.Run.TraceSHA256).To(Equal(out.Run.TraceSHA256))
		Expect(found(again, "import").Status).To(Equal(verdict.Failed))
		Expect(found(again, "command_economy").Status).To(Equal(verdict.Failed))

		// The same limits in a run of its own.
		sc.Must = again.Scenario.Must
		_, direct := recorded(sc, restless(3))
		Expect(again.Run.Criteria).To(Equal(direct.Run.Criteria))
	})

	It("ends where a controller died, as it did", func() {
		folder, out := recorded(builtin("calm-start"), func() emulator.Policy {
			return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
				if c.Now() > 5*time.Minute {
					panic("no more")
				}
				return 9 * time.Second, nil
			})
		})
		Expect(out.Run.Error.Kind).To(Equal(verdict.ControllerDied))
		again, err := judgeAgain(folder, out.Run, "")
		Expect(err).NotTo(HaveOccurred())
		Expect(again.Run).To(Equal(out.Run))
	})

	It("can be one with nobody on the wire", func() {
		out := alone("left-alone")
		folder := GinkgoT().TempDir()
		Expect(suites.WriteFolder(folder, out)).To(Succeed())
		again, err := judgeAgain(folder, out.Run, "")
		Expect(err).NotTo(HaveOccurred())
		Expect(again.Run.Criteria).To(Equal(out.Run.Criteria))
	})

	DescribeTable("is refused where it does not match", func(file, old, new, want string) {
		folder, out := recorded(builtin("calm-start"), stopSouth)
		path := filepath.Join(folder, file)
		text, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(string(text)).To(ContainSubstring(old))
		Expect(os.WriteFile(path, []byte(strings.Replace(string(text), old, new, 1)), 0o600)).To(Succeed())
		_, err = judgeAgain(folder, out.Run, "")
		Expect(err).To(MatchError(ContainSubstring(want)))
	},
		Entry("an edited plant", "scenario.yaml", "voltage: 230 V", "voltage: 231 V", "the recording does not match: its commands move the plant to the trace "),
		Entry("an edited command", "commands.csv", ",south,charge_limit,0,", ",south,charge_limit,2500,", "the recording does not match"),
		Entry("another seed", "scenario.yaml", "seed: 1", "seed: 2", "seed: found 2, but the run was recorded with 1"),
		Entry("a device that is not there", "commands.csv", ",south,", ",west,", `the record commands "west", and the scenario has no such device on the wire`),
		Entry("a file of another version", "commands.csv", ",lapsed,", ",over,", "commands.csv:1: found the columns"),
		Entry("a signal that is none", "commands.csv", ",charge_limit,", ",charge_limt,", `commands.csv:2: signal: found "charge_limt", want a signal`),
		Entry("a line that is cut off", "commands.csv", ",south,charge_limit,0,515,0,false,false,0,0,false\n", ",south\n", "commands.csv:2: wrong number of fields"),
		Entry("a device on the wire that is none", "wire.csv", ",south,", ",west,", `device: found "west", want one of`),
	)

	It("is refused where a file is missing", func() {
		folder, out := recorded(builtin("calm-start"), stopSouth)
		Expect(os.Remove(filepath.Join(folder, "wire.csv"))).To(Succeed())
		_, err := judgeAgain(folder, out.Run, "")
		Expect(err).To(MatchError(HaveSuffix("wire.csv: no such file, which a run of this version keeps; the run cannot be judged again")))
	})

	It("refuses limits that make no sense, by the file that has them", func() {
		folder, out := recorded(builtin("calm-start"), stopSouth)
		limits := filepath.Join(GinkgoT().TempDir(), "limits.yaml")
		for text, want := range map[string]string{
			"must: {import: {below: 1}}":                     "limits.yaml:1:",
			"musts: {import: {below: 1 W}}":                  "limits.yaml:1:1",
			"must: {fuse_heating: {below: 1}, wear: {}}":     "limits.yaml:1:",
			"format: 1\nscenario: A\nmust: {import: 3 kW}\n": "limits.yaml:",
		} {
			Expect(os.WriteFile(limits, []byte(text), 0o600)).To(Succeed())
			_, err := judgeAgain(folder, out.Run, limits)
			Expect(err).To(MatchError(ContainSubstring(want)), text)
		}
	})
})
