package scenarios

import (
	"fmt"
	"reflect"
	"strings"
	"time"

	"kilter/physics"
)

// mustBuilder makes what a scenario asks for into Must.
type mustBuilder struct {
	*calendar
	site  *Site
	cheap []Window
}

// criteriaWords are the keys under must.
func criteriaWords() []string {
	var words []string
	for _, f := range fieldsOf(reflect.TypeFor[mustFile]()) {
		words = append(words, f.key)
	}
	return words
}

// must reads what must hold, and refuses what this site or story gives no meaning.
func (b *mustBuilder) must(story *scenarioFile) Must {
	f := story.Must
	if f == nil {
		b.missing(story.At.under("must"))
		return Must{}
	}
	m := Must{
		Import: flow(f.Import), Export: flow(f.Export), Settle: b.settle(f.Settle), Hunting: b.hunting(f.Hunting),
		Circulating: circulating(f.Circulating), SupplyCurrent: b.supplyCurrent(f.SupplyCurrent), FuseHeating: b.fuseHeating(f.FuseHeating),
		Schedule: b.schedule(f.Schedule), Wear: b.wear(f.Wear), CommandEconomy: b.commandEconomy(f.CommandEconomy),
		WireManners: wireManners(f.WireManners), FailSafe: b.failSafe(f.FailSafe), Recovery: b.recovery(f.Recovery),
		Formulas: b.formulas(f.Formula),
	}
	if s := f.SOCSpread; s != nil {
		m.SOCSpread = &Spread{Below: s.Below.v, From: seconds(s.From.v)}
	}
	if r := f.Reserve; r != nil {
		m.Reserve = &Reserve{Below: r.Below.v, Except: seconds(r.Except.v)}
	}
	if a := f.AvoidableImport; a != nil {
		m.AvoidableImport = &AvoidableEnergy{a.Below.v}
	}
	if a := f.AvoidableExport; a != nil {
		m.AvoidableExport = &AvoidableEnergy{a.Below.v}
	}
	if r := f.Reversion; r != nil {
		m.Reversion = &Reversion{Within: b.within(r.Within)}
		if r.Untimed.set {
			n := int(r.Untimed.v)
			m.Reversion.Untimed = &n
		}
	}
	if reflect.ValueOf(m).IsZero() {
		b.missing(f.At)
	}
	b.meaningless(f)
	return m
}

func (b *mustBuilder) missing(at spot) {
	b.add(at, "none", "at least one of "+strings.Join(criteriaWords(), ", "), "")
}

// meaningless refuses criteria about what the site does not have.
func (b *mustBuilder) meaningless(f *mustFile) {
	wired := false
	for _, d := range b.site.Devices {
		wired = wired || d.Wire != nil
	}
	ask := func(stated, has bool, at func() spot, what, instead string) {
		if stated && !has {
			b.add(at(), what, instead, "")
		}
	}
	const noBattery, noWire = "a site without battery inverters", "a site without devices on the wire"
	inverters := len(b.site.Plant.Inverters) > 0
	ask(f.Reserve != nil, inverters, func() spot { return f.Reserve.At }, noBattery, "a site with one")
	ask(f.Schedule != nil, inverters, func() spot { return f.Schedule.At }, noBattery, "a site with one")
	ask(f.Wear != nil, inverters, func() spot { return f.Wear.At }, noBattery, "a site with one")
	ask(f.FailSafe != nil, inverters, func() spot { return f.FailSafe.At }, noBattery, "a site with one")
	ask(f.Reversion != nil, inverters, func() spot { return f.Reversion.At }, noBattery, "a site with one")
	ask(f.CommandEconomy != nil, wired, func() spot { return f.CommandEconomy.At }, noWire, "a site with one")
	ask(f.WireManners != nil, wired, func() spot { return f.WireManners.At }, noWire, "a site with one")
}

// within reads a time in which something must happen: a step is the least that can be seen.
func (b *mustBuilder) within(q quantity) time.Duration {
	if q.set && seconds(q.v) < b.step {
		b.add(q.at, shownAs("time", q.v), "at least the step of "+shownAs("time", b.step.Seconds()), "")
	}
	return seconds(q.v)
}

// given is a bound that may be absent.
func given(q quantity) *float64 {
	if !q.set {
		return nil
	}
	return &q.v
}

func flow(f *flowFile) *Flow {
	if f == nil {
		return nil
	}
	return &Flow{BelowW: f.Below.v, Except: seconds(f.Except.v), EnergyWh: given(f.Energy)}
}

func (b *mustBuilder) settle(f *settleFile) *Settle {
	if f == nil {
		return nil
	}
	return &Settle{BandW: f.Band.v, Within: b.within(f.Within), OvershootW: given(f.Overshoot)}
}

func (b *mustBuilder) hunting(f *huntingFile) *Hunting {
	if f == nil {
		return nil
	}
	return &Hunting{BelowW: f.Below.v, GoneWithin: b.within(f.GoneWithin)}
}

func circulating(f *circulatingFile) *Circulating {
	if f == nil {
		return nil
	}
	c := &Circulating{BelowW: f.Below.v, Except: seconds(f.Except.v), EnergyWh: given(f.Energy)}
	if f.Episode.set {
		episode := seconds(f.Episode.v)
		c.Episode = &episode
	}
	return c
}

// supplyCurrent is judged by the main fuse where no current is named.
func (b *mustBuilder) supplyCurrent(f *supplyCurrentFile) *SupplyCurrent {
	if f == nil {
		return nil
	}
	if !f.Below.set && b.site.Plant.Supply.FuseA == 0 {
		b.add(f.At, "no below, and a supply without a fuse", "a current in A under below", "or give the site's supply its fuse")
	}
	return &SupplyCurrent{BelowA: f.Below.v, Except: seconds(f.Except.v)}
}

func (b *mustBuilder) fuseHeating(f *fuseHeatingFile) *FuseHeating {
	if f == nil {
		return nil
	}
	if rated := b.site.Plant.Supply.FuseA; rated == 0 {
		b.add(f.At, "a supply without a fuse", "a site whose supply has a fuse", "")
	} else if _, err := physics.GGGatesOf(rated); err != nil {
		b.add(f.At, "a fuse of "+shownAs("current", rated), "a fuse whose characteristic is known", fmt.Sprint(err))
	}
	return &FuseHeating{Below: f.Below.v}
}

// schedule needs a window: its own, or cheap ones.
func (b *mustBuilder) schedule(f *scheduleFile) *Schedule {
	if f == nil {
		return nil
	}
	s := &Schedule{Target: f.Target.v, Missing: f.Missing.v, ImportBelowW: f.ImportBelow.v, Efficiency: f.Efficiency.v}
	if !f.During.set {
		if len(b.cheap) == 0 {
			b.add(f.At, "no during, and a story without cheap windows", "a window like 02:00 to 05:00 under during", "")
		}
		return s
	}
	switch windows := b.windows(list[text]{f.During}); len(windows) {
	case 0: // windows said why
	case 1:
		s.During = &windows[0]
	default:
		b.add(f.During.at, quoted(f.During.s)+fmt.Sprintf(", which comes %d times", len(windows)), "one window", "name each under cheap, and leave during out")
	}
	return s
}

func (b *mustBuilder) wear(f *wearFile) *Wear {
	if f == nil {
		return nil
	}
	w := &Wear{CyclesPerDay: given(f.Cycles), ReversalsPerHour: given(f.Reversals), ModeFlipsPerHour: given(f.ModeFlips)}
	if *w == (Wear{}) {
		b.add(f.At, "no bound", "at least one of cycles, reversals, mode_flips", "")
	}
	return w
}

func (b *mustBuilder) commandEconomy(f *commandEconomyFile) *CommandEconomy {
	if f == nil {
		return nil
	}
	if !f.Writes.set && !f.Gap.set {
		b.add(f.At, "no bound", "at least one of writes, gap", "")
	}
	return &CommandEconomy{WritesPerHour: given(f.Writes), Gap: seconds(f.Gap.v)}
}

func wireManners(f *wireMannersFile) *WireManners {
	if f == nil {
		return nil
	}
	return &WireManners{
		Exceptions: int(f.Exceptions.v), Illegal: int(f.Illegal.v), Forbidden: int(f.Forbidden.v),
		ReadsPerS: f.Reads.v, Over: seconds(f.Over.v),
	}
}

func (b *mustBuilder) failSafe(f *failSafeFile) *FailSafe {
	if f == nil {
		return nil
	}
	return &FailSafe{BelowW: f.Below.v, Within: b.within(f.Within), NativeIsSafe: f.Native.s != "no", NarrowedIsSafe: f.Native.s == "narrowed"}
}

func (b *mustBuilder) recovery(f *recoveryFile) *Recovery {
	if f == nil {
		return nil
	}
	return &Recovery{BandW: f.Band.v, Within: b.within(f.Within), Hold: seconds(f.Hold.v)}
}
