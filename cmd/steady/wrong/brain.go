package wrong

import (
	"kilter/cmd/steady/control"
)

// orders are what each unit is to do.
type orders map[string]control.Command

// brain is the reference controller's policy, or another one, that sees something else or wants something else.
type brain struct {
	see    func(s *control.Snapshot)          // changes what is seen
	decide func(s control.Snapshot, o orders) // decides in place of the policy
	want   func(s control.Snapshot, o orders) // changes what the policy wants
	repeat bool                               // says it all again at each poll
}

// thinks is the reference controller with another brain.
func thinks(b brain, args ...string) func() parts {
	return func() parts {
		return parts{args: args, Program: control.Program{Mind: b.mind}}
	}
}

func (b brain) mind(p *control.Policy) control.Mind {
	return &mind{Policy: p, brain: b, wants: orders{}, told: map[string]control.Band{}}
}

// mind is a brain at run time.
type mind struct {
	*control.Policy
	brain
	wants orders // of the policy
	told  map[string]control.Band
}

// Decide answers what changes.
func (m *mind) Decide(s control.Snapshot) []control.Command {
	if m.see != nil {
		m.see(&s)
	}
	final := orders{}
	if m.decide != nil {
		m.decide(s, final)
	} else {
		for _, c := range m.Policy.Decide(s) {
			m.wants[c.Unit] = c
		}
		for unit, c := range m.wants {
			final[unit] = c
		}
	}
	if m.want != nil {
		m.want(s, final)
	}
	var out []control.Command
	for _, u := range s.Units {
		c, ok := final[u.Name]
		last, told := m.told[u.Name]
		if !ok || !u.Commanded || told && last == c.Band && !m.repeat {
			continue
		}
		m.told[u.Name] = c.Band
		out = append(out, c)
	}
	return out
}

// give sets what a unit is to do.
func (o orders) give(u control.Unit, band control.Band, why string) {
	o[u.Name] = control.Command{Unit: u.Name, Band: band, Why: why}
}

// power is the band that makes a unit work at one power [W].
func power(w float64) control.Band { return control.Band{MinW: w, MaxW: w} }

// free is the band that leaves a unit to its native loop.
func free(u control.Unit) control.Band {
	return control.Band{MinW: -u.DischargeMaxW, MaxW: u.ChargeMaxW}
}

// fullestAndEmptiest are the units of the largest and of the least state of charge.
func fullestAndEmptiest(s control.Snapshot) (full, empty control.Unit) {
	full, empty = s.Units[0], s.Units[0]
	for _, u := range s.Units {
		if u.SOC.Value > full.SOC.Value {
			full = u
		}
		if u.SOC.Value < empty.SOC.Value {
			empty = u
		}
	}
	return full, empty
}
