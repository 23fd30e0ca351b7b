package verdict_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/verdict"
)

func criterion(status verdict.Status) verdict.Criterion {
	occasions := 3
	if status == verdict.NotExercised {
		occasions = 0
	}
	return verdict.Criterion{
		Name: "import", Status: status, Exercised: occasions, Unit: "W", Bound: verdict.AtMost,
		Margin: verdict.Of(-1423.7), Observed: verdict.Of(19423.7), Limit: verdict.Of(18000),
		AtS: verdict.Seconds(754.5), FromS: verdict.Seconds(750), ToS: verdict.Seconds(761.2),
		Detail: "grid flow stayed above the limit for longer than 2 s", Columns: []string{"grid", "van_charger"},
	}
}

func run(statuses ...verdict.Status) verdict.Run {
	r := verdict.Run{
		Scenario: "van-on-fuse", Title: "The van charges while the oven heats", Site: "bakery", Seed: 1<<63 + 7,
		Pace: "stepped", Controller: "steady", StepMS: verdict.Of(100), DurationS: verdict.Seconds(2400),
		StartedLocal: "2026-06-18 10:30 Europe/Oslo", TraceSHA256: strings.Repeat("ab", 32),
		Audit:     verdict.Audit{WorstNodeW: verdict.Of(3.2e-12), EnergyResidualWh: verdict.Of(-4.5e-9)},
		Reproduce: "kilter check --scenario van-on-fuse --seed 9223372036854775815",
	}
	for _, s := range statuses {
		r.Criteria = append(r.Criteria, criterion(s))
	}
	return r
}

func broken(kind verdict.ErrorKind) verdict.Run {
	r := run(verdict.Failed)
	r.Error = &verdict.RunError{Kind: kind, Detail: "no connection within 30 s"}
	return r
}

func written(v verdict.Verdict) string {
	var buffer bytes.Buffer
	ExpectWithOffset(1, v.Write(&buffer)).To(Succeed())
	return buffer.String()
}

var _ = Describe("a verdict", func() {
	It("passes only where every run passed, and derives the flags from the statuses", func() {
		v := verdict.New(run(verdict.Passed, verdict.NotExercised), run(verdict.Undetermined, verdict.Failed))
		Expect(v.Passed).To(BeFalse())
		Expect(v.Runs[0].Passed).To(BeTrue())
		Expect(v.Runs[1].Passed).To(BeFalse())
		Expect(v.Runs[0].Criteria[1].Passed).To(BeFalse(), "a criterion that was not exercised never passes")
	})

	It("does not pass when nothing was judged", func() {
		Expect(verdict.New().Passed).To(BeFalse())
		Expect(verdict.New().ExitCode(false)).To(Equal(verdict.ExitBenchFault))
	})

	It("does not touch the caller's findings", func() {
		r := run(verdict.Passed)
		verdict.New(r)
		Expect(r.Criteria[0].Passed).To(BeFalse())
	})

	It("lists its failures in the order of the scenario", func() {
		r := run(verdict.Failed, verdict.Passed, verdict.Failed)
		r.Criteria[2].Name = "export"
		failures := r.Failures()
		Expect(failures).To(HaveLen(2))
		Expect(failures[1].Name).To(Equal("export"))
	})
})

var _ = DescribeTable("the exit code tells the kind of failure",
	func(lenient, strict int, runs ...verdict.Run) {
		v := verdict.New(runs...)
		Expect(v.ExitCode(false)).To(Equal(lenient))
		Expect(v.ExitCode(true)).To(Equal(strict))
	},
	Entry("all passed", 0, 0, run(verdict.Passed)),
	Entry("one failed", 1, 1, run(verdict.Passed), run(verdict.Passed, verdict.Failed)),
	Entry("undetermined counts only with strict", 0, 1, run(verdict.Passed, verdict.Undetermined)),
	Entry("not exercised counts only with strict", 0, 1, run(verdict.NotExercised)),
	Entry("a run without criteria counts only with strict", 0, 1, run()),
	Entry("a bench fault", 3, 3, broken(verdict.BenchFault)),
	Entry("a controller that never came", 4, 4, broken(verdict.ControllerNeverCame)),
	Entry("a controller that died", 4, 4, broken(verdict.ControllerDied)),
	Entry("a bench fault outweighs a failure before it", 3, 3, run(verdict.Failed), broken(verdict.BenchFault)),
	Entry("a bench fault outweighs a dead controller", 3, 3, broken(verdict.ControllerDied), broken(verdict.BenchFault)),
	Entry("a dead controller outweighs a failure", 4, 4, broken(verdict.ControllerDied), run(verdict.Failed)),
)

var _ = Describe("verdict.json", func() {
	It("keeps its field names", func() {
		var file map[string]any
		Expect(json.Unmarshal([]byte(written(verdict.New(run(verdict.Passed)))), &file)).To(Succeed())
		Expect(file).To(And(HaveKeyWithValue("tool", "kilter"), HaveKeyWithValue("passed", true), HaveKey("format")))
		r := file["runs"].([]any)[0].(map[string]any)
		for _, key := range []string{"scenario", "site", "seed", "pace", "controller", "passed", "trace_sha256",
			"audit", "reproduce", "criteria"} {
			Expect(r).To(HaveKey(key))
		}
		Expect(r["audit"]).To(And(HaveKey("worst_node_w"), HaveKey("energy_residual_wh")))
		for _, key := range []string{"name", "status", "passed", "exercised", "margin", "observed", "limit", "unit",
			"at_s", "detail"} {
			Expect(r["criteria"].([]any)[0]).To(HaveKey(key))
		}
	})

	It("comes back as it was written, a seed of 64 bits included", func() {
		v := verdict.New(run(verdict.Passed, verdict.Undetermined, verdict.Failed), broken(verdict.ControllerDied))
		back, err := verdict.Read(strings.NewReader(written(v)))
		Expect(err).NotTo(HaveOccurred())
		Expect(back).To(Equal(v))
		Expect(written(back)).To(Equal(written(v)))
	})

	It("writes null for NaN, infinity and a figure that is missing", func() {
		r := run(verdict.Undetermined)
		r.Criteria[0].Margin = verdict.Of(math.NaN())
		r.Criteria[0].Observed = verdict.Of(math.Inf(-1))
		r.Criteria[0].Limit = verdict.Number{}
		r.Audit.WorstNodeW = verdict.Of(math.Inf(1))
		text := written(verdict.New(r))
		Expect(text).To(And(ContainSubstring(`"margin": null`), ContainSubstring(`"observed": null`),
			ContainSubstring(`"limit": null`), ContainSubstring(`"worst_node_w": null`)))
		_, err := verdict.Read(strings.NewReader(text))
		Expect(err).NotTo(HaveOccurred())
	})

	It("leaves a device's odd name readable", func() {
		r := run(verdict.Passed)
		r.Controller = `./ctl <fast> & "loose"`
		Expect(written(verdict.New(r))).To(ContainSubstring(`./ctl <fast> & \"loose\"`))
	})

	It("refuses to write flags that contradict the findings", func() {
		v := verdict.New(run(verdict.Failed))
		v.Passed = true
		Expect(v.Write(&bytes.Buffer{})).To(MatchError(`verdict: passed: found true, but the runs say false`))
	})

	It("passes on what the writer's end says", func() {
		Expect(verdict.New(run()).Write(full{})).To(MatchError("the disk is full"))
	})

	DescribeTable("is read strictly, and the error says where",
		func(old, new, message string) {
			text := written(verdict.New(run(verdict.Failed)))
			Expect(text).To(ContainSubstring(old))
			_, err := verdict.Read(strings.NewReader(strings.Replace(text, old, new, 1)))
			Expect(err).To(MatchError(ContainSubstring(message)))
		},
		Entry("another tool", `"tool": "kilter"`, `"tool": "gauge"`, `tool: found "gauge", want "kilter"`),
		Entry("a later format", `"format": 1`, `"format": 2`, "format: found 2, this build reads 1"),
		Entry("an unknown field", `"margin"`, `"leeway"`, `unknown field "leeway"`),
		Entry("a wrong type", `"pace": "stepped"`, `"pace": 3`, "line 11: runs.pace: found a JSON number, want string"),
		Entry("a figure in quotes", `"margin": -1423.7`, `"margin": "-1423.7"`, "want a number or null"),
		Entry("an unknown status", `"status": "failed"`, `"status": "fine"`, `runs[0].criteria[0].status: found "fine"`),
		Entry("a whitewashed criterion", `"passed": false,
          "exercised"`, `"passed": true,
          "exercised"`, `passed: found true beside status "failed"`),
		Entry("a whitewashed whole", `"passed": false`, `"passed": true`, "passed: found true, but the runs say false"),
		Entry("a contradicted flag", `"exercised": 3`, `"exercised": -1`, `exercised: found -1 beside status "failed"`),
		Entry("an unknown side", `"at_most"`, `"sideways"`, `bound: found "sideways"`),
		Entry("a nameless criterion", `"name": "import"`, `"name": ""`, "criteria[0].name: found nothing"),
		Entry("broken JSON", `"site":`, `"site"`, "line 9: "),
	)

	It("refuses an empty file, half a file, and text after the end", func() {
		text := written(verdict.New(run(verdict.Failed)))
		_, err := verdict.Read(strings.NewReader(""))
		Expect(err).To(MatchError("verdict: the file is empty"))
		_, err = verdict.Read(strings.NewReader(text[:len(text)/2]))
		Expect(err).To(MatchError(ContainSubstring("the file ends in the middle")))
		_, err = verdict.Read(strings.NewReader(text + "{}"))
		Expect(err).To(MatchError(ContainSubstring("text after the end")))
	})
})

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("the disk is full") }

var _ = Describe("a number", func() {
	It("keeps seven significant digits, and seconds keep the millisecond", func() {
		Expect(verdict.Of(0.1 + 0.2).String()).To(Equal("0.3"))
		Expect(verdict.Of(18423.76543).String()).To(Equal("18423.77"))
		Expect(verdict.Of(math.Copysign(0, -1)).String()).To(Equal("0"))
		Expect(verdict.Seconds(604800.1230001).String()).To(Equal("604800.123"))
		Expect(verdict.Seconds(math.MaxFloat64).Known()).To(BeFalse())
		Expect(verdict.Seconds(math.NaN()).String()).To(Equal("none"))
	})

	It("is unchanged by any journey through JSON", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			v := rapid.Float64().Draw(t, "value")
			for _, n := range []verdict.Number{verdict.Of(v), verdict.Seconds(v)} {
				text, err := json.Marshal(n)
				if err != nil {
					t.Fatal(err)
				}
				var back verdict.Number
				if err := json.Unmarshal(text, &back); err != nil || back != n {
					t.Fatalf("%v became %s became %v (%v)", n, text, back, err)
				}
			}
		})
	})
})

var _ = Describe("the wording", func() {
	It("explains a failure in five parts", func() {
		Expect(criterion(verdict.Failed).Explain()).To(Equal(strings.Join([]string{
			"criterion  import failed: grid flow stayed above the limit for longer than 2 s",
			"at         0:12:34.5 (t = 754.5 s)",
			"observed   19.42 kW",
			"limit      at most 18 kW",
			"look at    rows t = 750 s to 761.2 s, columns grid, van_charger",
		}, "\n")))
	})

	It("tells what the limit allows, and since when it was broken", func() {
		c := criterion(verdict.Failed)
		c.Allowance, c.FirstS = "except up to 2 s", verdict.Seconds(700)
		Expect(c.Explain()).To(ContainSubstring("\nat         0:12:34.5 (t = 754.5 s), broken since 0:11:40\n"))
		Expect(c.Explain()).To(ContainSubstring("\nlimit      at most 18 kW, except up to 2 s\n"))
		c.FirstS = c.AtS
		Expect(c.Explain()).NotTo(ContainSubstring("broken since"))
	})

	It("names the clause where a criterion has several", func() {
		c := criterion(verdict.Failed)
		c.Clause = "energy"
		Expect(c.Explain()).To(HavePrefix("criterion  import (energy) failed"))
	})

	It("says so where there is no moment and no figure", func() {
		text := verdict.Criterion{Name: "wear", Status: verdict.NotExercised}.Explain()
		Expect(text).To(ContainSubstring("wear not exercised"))
		Expect(text).To(ContainSubstring("over the whole run"))
		Expect(text).To(ContainSubstring("observed   none"))
		Expect(text).To(ContainSubstring("look at    the whole run"))
	})

	It("takes as many digits as tell the observed from the limit", func() {
		Expect(verdict.QuantityBeside(verdict.Of(18000.4), verdict.Of(18000), "W")).To(Equal("18.0004 kW"))
		Expect(verdict.QuantityBeside(verdict.Of(18000), verdict.Of(18000), "W")).To(Equal("18 kW"))
	})

	DescribeTable("writes a figure with its unit",
		func(v float64, unit, want string) {
			Expect(verdict.Quantity(verdict.Of(v), unit)).To(Equal(want))
		},
		Entry(nil, 0.0, "W", "0 W"),
		Entry(nil, 999.94, "W", "999.9 W"),
		Entry(nil, -1423.7, "W", "-1.424 kW"),
		Entry(nil, 0.0301, "", "0.0301"),
		Entry(nil, 123456.0, "writes", "123456 writes"),
		Entry(nil, 3.2e-12, "W", "3.2e-12 W"),
		Entry(nil, 7.25, "%", "7.25 %"),
	)

	DescribeTable("writes simulated time",
		func(s float64, want string) { Expect(verdict.Moment(s)).To(Equal(want)) },
		Entry(nil, 0.0, "0:00:00"),
		Entry(nil, 59.9996, "0:01:00"),
		Entry(nil, 754.5, "0:12:34.5"),
		Entry(nil, 90061.01, "25:01:01.01"),
		Entry(nil, -3.0, "-0:00:03"),
		Entry(nil, 1e300, "1e+300 s"),
	)
})

// FuzzRead: whatever Read accepts, Write writes and Read reads as the same.
func FuzzRead(f *testing.F) {
	var buffer bytes.Buffer
	if err := verdict.New(run(verdict.Passed, verdict.Failed)).Write(&buffer); err != nil {
		f.Fatal(err)
	}
	f.Add(buffer.String())
	f.Add(`{"tool":"kilter","format":1,"passed":false,"runs":[]}`)
	f.Add(`{"tool":"kilter","format":1,"passed":true,"runs":[{"passed":true,"criteria":null}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		v, err := verdict.Read(strings.NewReader(text))
		if err != nil {
			return
		}
		var again bytes.Buffer
		if err := v.Write(&again); err != nil {
			t.Fatalf("accepted and then refused: %v", err)
		}
		if _, err := verdict.Read(&again); err != nil {
			t.Fatalf("wrote what it cannot read: %v", err)
		}
	})
}
