package suites

import (
	"fmt"
	"time"

	"kilter/scenarios"
)

// SettleWithin succeeds where grid flow came to within a band [W] of what could be achieved, so soon after each
// disturbance that the scenario declares.
func SettleWithin(within time.Duration, bandW float64) *Matcher {
	return match("settle", fmt.Sprintf("settle within %s to %s", duration(within), watts(bandW)),
		scenarios.Must{Settle: &scenarios.Settle{BandW: bandW, Within: within}})
}

// NotHunt succeeds where the batteries added no oscillation larger than an amplitude [W] that had not died out after a
// time.
func NotHunt(aboveW float64, goneWithin time.Duration) *Matcher {
	return match("hunting", fmt.Sprintf("not hunt above %s for longer than %s", watts(aboveW), duration(goneWithin)),
		scenarios.Must{Hunting: &scenarios.Hunting{BelowW: aboveW, GoneWithin: goneWithin}})
}

// KeepImportBelow succeeds where import stayed below a limit [W], or below what no controller could have avoided.
func KeepImportBelow(limitW float64) *Bounded {
	return &Bounded{match("import", "keep import below "+watts(limitW), scenarios.Must{Import: &scenarios.Flow{BelowW: limitW}}),
		func(m *scenarios.Must, d time.Duration) { m.Import.Except = d }}
}

// KeepExportBelow succeeds where export stayed below a limit [W], or below what no controller could have avoided.
func KeepExportBelow(limitW float64) *Bounded {
	return &Bounded{match("export", "keep export below "+watts(limitW), scenarios.Must{Export: &scenarios.Flow{BelowW: limitW}}),
		func(m *scenarios.Must, d time.Duration) { m.Export.Except = d }}
}

// NotCirculateAbove succeeds where no more than so much power [W] went from one battery into another.
func NotCirculateAbove(limitW float64) *Bounded {
	return &Bounded{match("circulating", "not circulate more than "+watts(limitW), scenarios.Must{Circulating: &scenarios.Circulating{BelowW: limitW}}),
		func(m *scenarios.Must, d time.Duration) { m.Circulating.Except = d }}
}

// KeepSOCWithin succeeds where the batteries' states of charge stayed within a share (0.05 is 5 %) of one another.
func KeepSOCWithin(share float64) *Since {
	return &Since{match("soc_spread", "keep states of charge within "+percent(share), scenarios.Must{SOCSpread: &scenarios.Spread{Below: share}})}
}

// Since is a Matcher that may begin later.
type Since struct{ *Matcher }

// From leaves out what was before a time.
func (s *Since) From(at time.Duration) *Since {
	s.must.SOCSpread.From = at
	s.wants += ", from " + duration(at) + " on"
	return s
}

// KeepReserve succeeds where no battery was discharged under its reserve by more than a share (0.02 is 2 %).
func KeepReserve(share float64) *Bounded {
	return &Bounded{match("reserve", "keep the reserve but for "+percent(share), scenarios.Must{Reserve: &scenarios.Reserve{Below: share}}),
		func(m *scenarios.Must, d time.Duration) { m.Reserve.Except = d }}
}

// KeepCurrentBelow succeeds where the current [A] of each phase of the supply stayed below a limit; 0 stands for the
// rating of the main fuse.
func KeepCurrentBelow(limitA float64) *Bounded {
	limit := fmt.Sprintf("%g A", limitA)
	if limitA == 0 {
		limit = "the main fuse's rating"
	}
	return &Bounded{match("supply_current", "keep each phase below "+limit, scenarios.Must{SupplyCurrent: &scenarios.SupplyCurrent{BelowA: limitA}}),
		func(m *scenarios.Must, d time.Duration) { m.SupplyCurrent.Except = d }}
}

// SpareTheFuse succeeds where the main fuse got no hotter than a share of what may melt it.
func SpareTheFuse(share float64) *Matcher {
	return match("fuse_heating", "keep the main fuse below "+percent(share)+" of the heat that may melt it",
		scenarios.Must{FuseHeating: &scenarios.FuseHeating{Below: share}})
}

// ChargeTo succeeds where the batteries were at a state of charge, or as near to it as they could be, at the end of a span
// of time; less by a share is allowed.
func ChargeTo(soc, less float64, from, to time.Duration) *Matcher {
	return match("schedule", fmt.Sprintf("charge to %s from %s to %s", percent(soc), duration(from), duration(to)),
		scenarios.Must{Schedule: &scenarios.Schedule{Target: soc, Missing: less, During: &scenarios.Window{From: from, To: to}}})
}

// WasteNoMoreImportThan succeeds where no more energy [Wh] was imported that the batteries could have delivered.
func WasteNoMoreImportThan(limitWh float64) *Matcher {
	return match("avoidable_import", fmt.Sprintf("import no more than %g Wh that could be avoided", limitWh),
		scenarios.Must{AvoidableImport: &scenarios.AvoidableEnergy{BelowWh: limitWh}})
}

// WasteNoMoreExportThan succeeds where no more energy [Wh] was exported that the batteries could have taken.
func WasteNoMoreExportThan(limitWh float64) *Matcher {
	return match("avoidable_export", fmt.Sprintf("export no more than %g Wh that could be avoided", limitWh),
		scenarios.Must{AvoidableExport: &scenarios.AvoidableEnergy{BelowWh: limitWh}})
}

// CycleAtMost succeeds where no battery went through more equivalent full cycles in any 24 h.
func CycleAtMost(perDay float64) *Matcher {
	return match("wear", fmt.Sprintf("cycle batteries at most %g times a day", perDay), scenarios.Must{Wear: &scenarios.Wear{CyclesPerDay: &perDay}})
}

// WriteAtMost succeeds where the controller sent no device more requests to write in any hour.
func WriteAtMost(perHour float64) *Matcher {
	return match("command_economy", fmt.Sprintf("write at most %g times an hour", perHour),
		scenarios.Must{CommandEconomy: &scenarios.CommandEconomy{WritesPerHour: &perHour}})
}

// KeepItsManners succeeds where the controller provoked no exception, wrote nothing that may not be written, and
// commanded no device that is not its own.
func KeepItsManners() *Matcher {
	const window = 10 * time.Second
	return match("wire_manners", "keep its manners on the wire", scenarios.Must{WireManners: &scenarios.WireManners{Over: window}})
}

// FailSafeWithin succeeds where the batteries were safe, at a power [W] or under their own loops, so soon after the
// controller or a link was lost.
func FailSafeWithin(within time.Duration, belowW float64) *Matcher {
	return match("fail_safe", fmt.Sprintf("be safe within %s", duration(within)),
		scenarios.Must{FailSafe: &scenarios.FailSafe{BelowW: belowW, Within: within, NativeIsSafe: true}})
}

// RecoverWithin succeeds where grid flow was within a band [W] of what could be achieved so soon after the controller came
// back, and stayed there for ten seconds.
func RecoverWithin(within time.Duration, bandW float64) *Matcher {
	const hold = 10 * time.Second
	return match("recovery", fmt.Sprintf("recover within %s to %s", duration(within), watts(bandW)),
		scenarios.Must{Recovery: &scenarios.Recovery{BandW: bandW, Within: within, Hold: hold}})
}

// RevertWithin succeeds where each limit that was written with a time ended no earlier or later than that.
func RevertWithin(within time.Duration) *Matcher {
	return match("reversion", "let limits go within "+duration(within)+" of their time", scenarios.Must{Reversion: &scenarios.Reversion{Within: within}})
}

// Obey asks that a sentence of temporal logic holds, in the words of a scenario's formula and about the signals of its site.
func Obey(sentence string) *Matcher {
	return match("formula", "obey "+sentence, scenarios.Must{Formulas: []scenarios.Formula{{Name: "asked", Sentence: sentence}}})
}
