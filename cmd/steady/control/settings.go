package control

import (
	"fmt"
	"time"
)

// Settings are the thresholds and times of the policy.
type Settings struct {
	// CirculatingAboveW is the power that may flow from one battery into
	// another before the supervisor acts, and the net load that decides which
	// way the site works [W].
	CirculatingAboveW float64

	// SOCApart is the difference between the states of charge at which the
	// supervisor begins to bring them together, and SOCTogether the one at
	// which it stops [1].
	SOCApart    float64
	SOCTogether float64

	// MarginW is kept free below the import limit [W].
	MarginW float64

	// RaiseW is by how much the budget for charging from the grid must exceed
	// what is used before more is used [W].
	RaiseW float64

	// UnservedAboveW is the grid flow that shows that the batteries do not do
	// what the site needs, and so also the step in which one battery hands its
	// work over to another [W].
	UnservedAboveW float64

	// Hold is how long a changed situation must last before the supervisor
	// follows it, unless power is wanted that is blocked.
	Hold time.Duration

	// ChargeTo is the state of charge to which the cheap slot fills [1].
	ChargeTo float64

	// LeadShare is the part of the first battery's ability that is counted on
	// while states of charge are brought together; the rest is headroom [1].
	LeadShare float64
}

// DefaultSettings suit native loops that settle within a poll of 10 s.
func DefaultSettings() Settings {
	return Settings{
		CirculatingAboveW: 60,
		SOCApart:          0.04,
		SOCTogether:       0.02,
		MarginW:           500,
		RaiseW:            300,
		UnservedAboveW:    150,
		Hold:              60 * time.Second,
		ChargeTo:          1,
		LeadShare:         0.8,
	}
}

// validate refuses settings that contradict each other.
func (s Settings) validate() error {
	switch {
	case s.CirculatingAboveW <= 0:
		return fmt.Errorf("circulating-above is %g W: must be more than 0 W", s.CirculatingAboveW)
	case s.SOCTogether < 0 || s.SOCTogether >= s.SOCApart:
		return fmt.Errorf("soc-together is %g %%: must be less than soc-apart, %g %%", 100*s.SOCTogether, 100*s.SOCApart)
	case s.MarginW < 0:
		return fmt.Errorf("margin is %g W: must not be negative", s.MarginW)
	case s.RaiseW < 0:
		return fmt.Errorf("raise is %g W: must not be negative", s.RaiseW)
	case s.UnservedAboveW <= 0:
		return fmt.Errorf("unserved-above is %g W: must be more than 0 W", s.UnservedAboveW)
	case s.Hold < 0:
		return fmt.Errorf("hold is %v: must not be negative", s.Hold)
	case s.ChargeTo <= 0 || s.ChargeTo > 1:
		return fmt.Errorf("charge-to is %g %%: must be above 0 %% and at most 100 %%", 100*s.ChargeTo)
	case s.LeadShare <= 0 || s.LeadShare > 1:
		return fmt.Errorf("lead-share is %g %%: must be above 0 %% and at most 100 %%", 100*s.LeadShare)
	}
	return nil
}
