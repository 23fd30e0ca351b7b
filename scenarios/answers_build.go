package scenarios

import (
	"fmt"
	"math"
	"slices"

	"kilter/physics"
)

// published is a curve that a document prints, over volts or over shares of the
// nominal voltage.
type published struct {
	curve     physics.Curve
	inVolts   bool
	responseS float64
}

var (
	voltWatts = map[string]published{
		"ieee 1547":       {curve: physics.VoltWatt1547()},
		"as-nzs 4777.2 a": {curve: physics.VoltWattAustraliaA(), inVolts: true},
	}
	voltVars = map[string]published{
		"ieee 1547 a":     {curve: physics.VoltVarCategoryA(), responseS: physics.VoltVarResponseCategoryAS},
		"ieee 1547 b":     {curve: physics.VoltVarCategoryB(), responseS: physics.VoltVarResponseCategoryBS},
		"as-nzs 4777.2 a": {curve: physics.VoltVarAustraliaA(), inVolts: true},
	}
)

// perNominal gives the curve over shares of the nominal voltage.
func (p published) perNominal(nominalV float64) physics.Curve {
	c := slices.Clone(p.curve)
	for i := range c {
		if p.inVolts {
			c[i].X /= nominalV
		}
	}
	return c
}

// answers tells how a device of a rating [W] answers the supply.
func (b *siteBuilder) answers(f *answersFile, ratingW float64) *physics.ResponseParams {
	if f == nil {
		return nil
	}
	p := &physics.ResponseParams{Trips: b.protection(f.Protection)}
	if v := f.VoltWatt; v != nil {
		word, said := v.Word, v.Points
		if c := v.Curve; c != nil {
			word, said = c.Word, c.Points
		}
		var points []corner
		for _, q := range said {
			points = append(points, b.atVoltage(q.At, q.Voltage, q.OfNominal, q.Power.v))
		}
		p.VoltWatt, _ = b.overVoltage(v.At, word, points, voltWatts)
		p.VoltWattResponseS = v.Response.v
	}
	if v := f.VoltVar; v != nil {
		word, said := v.Word, v.Points
		if c := v.Curve; c != nil {
			word, said = c.Word, c.Points
		}
		var points []corner
		for _, q := range said {
			points = append(points, b.atVoltage(q.At, q.Voltage, q.OfNominal, q.Reactive.v))
		}
		var usual float64
		p.VoltVar, usual = b.overVoltage(v.At, word, points, voltVars)
		p.VoltVarResponseS = v.Response.or(usual)
	}
	if f.Frequency != nil {
		p.Frequency = b.frequency(f.Frequency, ratingW)
	}
	if f.Reconnection != nil {
		p.Enter = b.reconnection(f.Reconnection)
	}
	return p
}

// overVoltage makes a curve over voltage from a word or from points; with a word
// comes the response time that is published with it.
func (b *siteBuilder) overVoltage(at spot, word text, points []corner, known map[string]published) (physics.Curve, float64) {
	if word.set {
		k := known[word.s]
		return k.perNominal(b.site.Plant.Supply.VoltageV), k.responseS
	}
	return b.curve(at.under("curve"), points), 0
}

// atVoltage is a point over voltage, which is said in one of two ways.
func (b *siteBuilder) atVoltage(at spot, volts, share quantity, y float64) corner {
	if volts.set == share.set {
		b.add(at, "a point with both or neither of voltage and of_nominal", "one of the two", "")
	}
	if volts.set {
		return corner{volts, volts.v / b.site.Plant.Supply.VoltageV, y, "voltage"}
	}
	return corner{share, share.v, y, "share"}
}

// isFor says that a published default is made for a nominal frequency.
func (b *siteBuilder) isFor(word text, hz float64) {
	if own := b.site.Plant.Supply.FrequencyHz; math.Abs(own-hz) > 1 {
		b.add(word.at, word.s+" on a supply of "+shownAs("frequency", own), "a supply of "+shownAs("frequency", hz)+", which this is published for", "write your own figures")
	}
}

func (b *siteBuilder) frequency(f *frequencyFile, ratingW float64) physics.FrequencyParams {
	nominal := b.site.Plant.Supply.FrequencyHz
	switch {
	case f.Word.s == "lfsm":
		b.isFor(f.Word, 50)
		return physics.FrequencyParams{Droop: physics.LFSMDefault()}
	case f.Word.s == "ieee 1547":
		return physics.FrequencyParams{Droop: physics.Droop1547(nominal), ResponseS: physics.Droop1547ResponseS, RatingW: ratingW}
	}
	for _, side := range []struct {
		hz, droop quantity
		words     string
	}{{f.Over, f.OverDroop, "over and over_droop"}, {f.Under, f.UnderDroop, "under and under_droop"}} {
		if side.hz.set != side.droop.set {
			b.add(f.At, "one of "+side.words, "both, or neither", "")
		}
	}
	if f.Over.set && f.Under.set && f.Under.v > f.Over.v {
		b.add(f.Under.at, shownAs("frequency", f.Under.v), "at most over", "")
	}
	return physics.FrequencyParams{
		Droop: physics.Droop{
			NominalHz: f.Nominal.or(nominal), UnderHz: f.Under.v, OverHz: f.Over.v,
			UnderDroop: f.UnderDroop.v, OverDroop: f.OverDroop.v,
		},
		RatingW: f.Reference.v, DelayS: f.Delay.v, ResponseS: f.Response.v, Hold: f.Hold.s == "yes", ReleaseS: f.Release.v,
	}
}

// mostStages is how many stages a protection has room for.
const mostStages = 12

func (b *siteBuilder) protection(f *protectionFile) []physics.TripStage {
	if f == nil {
		return nil
	}
	if f.Word.set {
		b.isFor(f.Word, 50)
		return physics.TripStagesG98G99(b.site.Plant.Supply.VoltageV)
	}
	if n := len(f.Stages); n == 0 || n > mostStages {
		b.add(f.At, fmt.Sprintf("%d stages", n), "1 to 12", "")
	}
	var stages []physics.TripStage
	for _, s := range f.Stages {
		kinds := 0
		for _, x := range []struct {
			q    quantity
			kind physics.TripKind
		}{
			{s.UnderV, physics.UnderVoltage}, {s.OverV, physics.OverVoltage},
			{s.UnderF, physics.UnderFrequency}, {s.OverF, physics.OverFrequency},
		} {
			if x.q.set {
				kinds++
				stages = append(stages, physics.TripStage{Kind: x.kind, Threshold: x.q.v, DelayS: s.Delay.v})
			}
		}
		if kinds != 1 {
			b.add(s.At, "a stage with several thresholds or none", "exactly one of under_voltage, over_voltage, under_frequency, over_frequency", "")
		}
	}
	return stages
}

func (b *siteBuilder) reconnection(f *reconnectFile) physics.EnterServiceParams {
	if f.Word.set {
		b.isFor(f.Word, 60)
		return physics.EnterService1547(b.site.Plant.Supply.VoltageV)
	}
	return physics.EnterServiceParams{
		LowV: f.Voltage.low, HighV: f.Voltage.high, LowHz: f.Frequency.low, HighHz: f.Frequency.high,
		DelayS: f.Delay.v, RampPerS: f.Ramp.v,
	}
}
