package suites

import (
	"math"

	"kilter/physics"
	"kilter/suites/criteria"
)

// phases works out what each conductor of the supply carries, and the least and the most that it could carry.
type phases struct {
	shares   [][3]float64 // by inverter: the share of its power in each conductor
	balanced bool         // all of them share alike
}

func newPhases(site *physics.Site) *phases {
	x := &phases{shares: make([][3]float64, len(site.Inverters)), balanced: true}
	for i := range site.Inverters {
		on := site.Inverters[i].Phases
		x.balanced = x.balanced && on == physics.AllPhases
		for k := range site.Phases {
			switch {
			case on == physics.AllPhases:
				x.shares[i][k] = 1 / float64(site.Phases)
			case on == physics.L1+physics.Phases(k) || site.Phases == 1:
				x.shares[i][k] = 1
			}
		}
	}
	return x
}

// fill writes the currents of a tick. With the batteries at work the conductor's active power P can be anything
// from N - D to N + C, where N is what the rest of the site draws on it, and D and C what the batteries could give to
// it and take from it. The reactive power stays what it is, as does the voltage:
//
//	I = sqrt(P^2 + Q^2) / V
//
// Each conductor is taken by itself: a three-phase inverter that lowers one may raise another.
func (x *phases) fill(s *criteria.Sample, p *physics.Plant) {
	supply, flows := p.Supply(), p.PhasesW(0)
	for k := range s.Phases {
		out := &s.Phases[k]
		volts := supply.VoltsV[k]
		if k > 0 && x.balanced && flows[k] == flows[k-1] && volts == supply.VoltsV[k-1] && supply.AmpsA[k] == supply.AmpsA[k-1] {
			*out = s.Phases[k-1]
			continue
		}
		if volts <= 0 {
			*out = criteria.PhaseSample{}
			continue
		}
		flow := flows[k]
		low, high := flow, flow
		for i := range s.Inverters {
			v, share := &s.Inverters[i], x.shares[i][k]
			low -= float64(share * (v.ACPowerW + v.DischargeRoomW))
			high += float64(share * (v.ChargeRoomW - v.ACPowerW))
		}
		out.CurrentA = supply.AmpsA[k]
		// What the present current has beyond the active power is reactive.
		apparent := out.CurrentA * volts
		square := max(0, float64(apparent*apparent)-float64(flow*flow))
		if square < roundingVar2 {
			square = 0
		}
		least := 0.0
		if low > 0 || high < 0 {
			least = min(math.Abs(low), math.Abs(high))
		}
		out.LeastA = amps(least, square, volts)
		out.MostA = amps(max(math.Abs(low), math.Abs(high)), square, volts)
	}
}

// roundingVar2 is far above what is left of two equal squares, and far below any reactive power that a meter sees.
const roundingVar2 = 1e-3

func amps(w, var2, volts float64) float64 {
	if var2 == 0 {
		return w / volts
	}
	return math.Sqrt(float64(w*w)+var2) / volts
}
