package trace

import "kilter/physics"

// inverterStates are the words of an inverter's state: the modes in their order, and what keeps one
// from obeying its mode.
var inverterStates = []string{
	physics.SelfConsumption.String(), physics.Hold.String(), physics.Charge.String(), physics.Discharge.String(),
	physics.FollowSetpoint.String(), physics.Standby.String(), "tripped", "off the supply", "carrying its island",
}

func inverterState(v *physics.Inverter) float64 {
	switch {
	case v.Tripped:
		return 6
	case v.Forming:
		return 8
	case !v.OnSupply():
		return 7
	}
	return float64(v.Mode)
}

// chargerStates are the words of a charger's state, as its pilot tells it.
var chargerStates = []string{"no vehicle", "paused", "charging"}

func chargerState(c *physics.Charger) float64 {
	switch {
	case !c.Plugged:
		return 0
	case c.PowerW == 0:
		return 1
	}
	return 2
}

// Sick says that a state's word is no mode but trouble.
func Sick(word string) bool { return word == "tripped" || word == "off the supply" }
