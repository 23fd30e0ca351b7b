package suites_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/verdict"
)

// saying is a change of a scenario: sentences in the place of all that must hold.
func saying(sentences ...string) func(*scenarios.Scenario) {
	return func(sc *scenarios.Scenario) {
		sc.Must = scenarios.Must{}
		for i, s := range sentences {
			sc.Must.Formulas = append(sc.Must.Formulas, scenarios.Formula{Name: string(rune('a' + i)), Sentence: s})
		}
	}
}

var _ = Describe("sentences of a scenario", func() {
	It("are each judged in a row of their own, with the sentence as its definition", func() {
		const early, late = "always (mixer > 1 kW implies eventually within 1 min grid < 200 W)", "eventually within 2 h north.soc < 20 %"
		out := alone("calm-start", saying(early, "always (van_charger > 0 W implies grid < 1 W)", late, "always north.soc > 49.8 %"))
		Expect(suites.Stated(out.Scenario)).To(Equal([]string{"formula.a", "formula.b", "formula.c", "formula.d"}))
		for i, want := range []verdict.Status{verdict.Passed, verdict.NotExercised, verdict.Undetermined, verdict.Failed} {
			c := out.Run.Criteria[i]
			Expect(c.Status).To(Equal(want), c.Name+" "+c.Detail)
			Expect(c.Formula).To(Equal(out.Scenario.Must.Formulas[i].Sentence))
			Expect(suites.CriterionOf(c.Name)).To(Equal("formula"))
			Expect(c.Avoidable).To(BeNil())
		}
		Expect(out.Run.Criteria[0].Columns).To(Equal([]string{"grid_w", "mixer_w"}), "where its signals are seen")
		Expect(out.Run.Criteria[0].Exercised).To(Equal(1800), "each step in which the mixer ran")
		broken := out.Run.Criteria[3]
		Expect(broken.Unit).To(Equal("%"))
		first, _ := broken.FirstS.Value()
		worst, _ := broken.AtS.Value()
		Expect(first).To(And(BeNumerically(">", 0), BeNumerically("<", worst)))
		Expect(broken.Cause).NotTo(BeNil(), "what led to it is told as of any failure")
		Expect(out).To(suites.Hold("formula.a"))
	})

	It("see what the plant shows, each signal under its name", func() {
		sc := everything("calm-start")
		everySignal := func(sc *scenarios.Scenario) {
			for _, x := range sc.Site.Signals() {
				limit := map[string]string{"W": "1 W", "A": "1 A", "": "1"}[string(x.Unit)]
				sc.Must.Formulas = append(sc.Must.Formulas, scenarios.Formula{Name: "x", Sentence: "always " + x.Name + " < " + limit})
			}
		}
		everySignal(sc)
		j, t := fed(sc)
		t.Plant.Apply(physics.SwitchLoad{Load: 2, On: true})
		t.Plant.Apply(physics.PlugIn{Charger: 0, CurrentA: 10})
		t.Plant.Apply(physics.SetMeterFault{Meter: 0, Fault: physics.MeterFrozen})
		for range 600 {
			t.Plant.Step()
		}
		s := j.Fill(t)
		got := map[string]float64{}
		for i, x := range sc.Site.Signals() {
			got[x.Name] = s.Signals[i]
		}
		p := t.Plant
		Expect(got).To(HaveKeyWithValue("grid", p.GridW))
		Expect(got).To(HaveKeyWithValue("net_load", p.NetLoadW))
		Expect(got).To(HaveKeyWithValue("supply.l2", p.Supply().AmpsA[1]))
		Expect(got).To(HaveKeyWithValue("north", p.Inverters[0].PowerW))
		Expect(got).To(HaveKeyWithValue("south.soc", p.Inverters[1].Battery.SOC))
		Expect(got).To(HaveKeyWithValue("south.told_soc", p.Inverters[1].Battery.ToldSOC()))
		Expect(got).To(HaveKeyWithValue("mixer", p.Loads[2].PowerW))
		Expect(got["mixer"]).To(BeNumerically(">", 1000))
		Expect(got["van_charger"]).To(BeNumerically("~", 6900, 1))
		Expect(got["panels"]).To(BeNumerically("<=", 0))
		Expect(got["grid_meter.true"]).To(BeNumerically("~", p.GridW, 1e-6))
		Expect(got["grid_meter"]).NotTo(BeNumerically("~", p.GridW, 1), "it is frozen")
	})

	It("that cannot be judged are refused before anything is played", func() {
		sc := builtin("calm-start")
		saying("always gird < 1 kW")(sc)
		Expect(suites.Check(sc)).To(MatchError(ContainSubstring(`found "gird"`)))
		saying("always for 250 ms grid < 1 kW")(sc)
		Expect(suites.Check(sc)).To(MatchError(ContainSubstring("a multiple of the step of 100ms")))
	})

	It("may be asked of a played run by a spec", func() {
		out := alone("calm-start")
		Expect(out).To(suites.Obey("always (mixer > 1 kW implies eventually within 1 min grid < 200 W)"))
		Expect(out).NotTo(suites.Obey("always north.soc > 49.8 %"))
		_, err := suites.Obey("always oven > 1 kW implies grid < 9 W").Match(out)
		Expect(err).To(MatchError(ContainSubstring("not exercised")))
	})
})
