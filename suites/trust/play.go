package trust

import (
	"kilter/physics"
	"kilter/suites/criteria"
)

// Outcome is what became of a case.
type Outcome struct {
	Case    *Case
	Results []criteria.Result
	// Swings is how often the batteries' total, and SingleSwings how often the most
	// restless of them alone, swung by more than the bound in that part of the quiet
	// tail in which nothing may swing any more.
	Swings, SingleSwings int
	Steps                int64
}

// fivePeriods of an oscillation are ten swings.
const fivePeriods = 10

// FalseAlarms are the criteria that failed though the case is stable.
func (o *Outcome) FalseAlarms() (list []criteria.Result) {
	if o.Case.Kind == Stable {
		for _, r := range o.Results {
			if r.Status == criteria.Failed {
				list = append(list, r)
			}
		}
	}
	return list
}

// Counted says whether an unstable case swung for five periods.
func (o *Outcome) Counted() bool {
	return o.Case.Kind == Unstable && max(o.Swings, o.SingleSwings) >= fivePeriods
}

// Failed says whether a criterion failed; an empty name stands for any.
func (o *Outcome) Failed(name string) bool {
	for _, r := range o.Results {
		if r.Status == criteria.Failed && (name == "" || r.Name == name) {
			return true
		}
	}
	return false
}

// Missed says whether an unstable case that swung passed all the same.
func (o *Outcome) Missed() bool { return o.Counted() && !o.Failed("") }

// Play gives what draws a case, finds its truth, and has it judged.
func Play(kind Kind, number int) func(seed uint64) (*Outcome, error) {
	return func(seed uint64) (*Outcome, error) { return play(kind, number, seed) }
}

func play(kind Kind, number int, seed uint64) (*Outcome, error) {
	k, rest, err := drawCase(kind, number, seed)
	if err != nil {
		return nil, err
	}
	monitors, err := k.monitors(&rest)
	if err != nil {
		return nil, err
	}
	p, err := physics.New(k.Site)
	if err != nil {
		return nil, err
	}
	out := &Outcome{Case: k}
	d := newDesk(k, p)
	s := criteria.Sample{Inverters: make([]criteria.InverterSample, len(p.Inverters)), Phases: make([]criteria.PhaseSample, k.Site.Phases)}
	total, single := swings{amplitudeW: huntingW}, make([]swings, len(p.Inverters))
	for i := range single {
		single[i].amplitudeW = huntingW
	}
	calm := k.story.quiet + int64(k.gone().Seconds()/stepS)
	happens, unfolds := k.story.events, int64(0)
	for tick := range k.story.lasts {
		s.Disturbed, s.Unfolding = false, tick < unfolds
		for len(happens) > 0 && happens[0].at <= tick {
			e := &happens[0]
			p.Apply(e.action)
			s.Disturbed = s.Disturbed || e.disturbs
			unfolds = max(unfolds, tick+e.unfolds)
			happens = happens[1:]
		}
		d.act(tick)
		p.Step()
		watch(&s, p)
		s.Writes = d.writes
		for _, m := range monitors {
			m.Observe(&s)
		}
		if tick >= calm {
			total.see(p.GridW - p.NetLoadW)
			for i := range single {
				single[i].see(p.Inverters[i].PowerW)
			}
		}
	}
	out.Steps, out.Swings = k.story.lasts, total.count
	for i := range single {
		out.SingleSwings = max(out.SingleSwings, single[i].count)
	}
	for _, m := range monitors {
		out.Results = append(out.Results, m.Result())
	}
	return out, nil
}
