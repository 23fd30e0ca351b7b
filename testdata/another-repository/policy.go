// Package mine is a controller in a repository of its own.
package mine

import (
	"errors"
	"time"

	"kilter/emulator"
	"kilter/emulator/registers"
)

// Policy lets one inverter follow the load and keeps the other still, so that neither can charge the other. They change
// over when the one that rests is fuller by some percent.
type Policy struct {
	working, resting string
	told             map[string]float64 // the limit that each obeys
}

// NewPolicy makes one for the bakery.
func NewPolicy() *Policy {
	return &Policy{working: "north", resting: "south", told: map[string]float64{}}
}

// every is the time from one poll to the next.
const every = 10 * time.Second

// Poll reads both states of charge, and commands what is to change.
func (p *Policy) Poll(c *emulator.Client) (time.Duration, error) {
	working, err := c.Read(p.working, registers.SOC)
	resting, err2 := c.Read(p.resting, registers.SOC)
	if err == nil && err2 == nil && resting > working+0.03 {
		p.working, p.resting = p.resting, p.working
	}
	for _, d := range c.Bench().Devices {
		limit := 0.0
		if d.Name == p.working {
			limit = d.RatingW
		}
		if told, is := p.told[d.Name]; d.Role != "battery" || is && told == limit {
			continue
		}
		switch err := errors.Join(c.Write(d.Name, registers.ChargeLimit, limit), c.Write(d.Name, registers.DischargeLimit, limit)); {
		case err == nil:
			p.told[d.Name] = limit
		case !errors.Is(err, emulator.ErrUnanswered):
			return 0, err // a sick link passes; anything else is a mistake of ours
		}
	}
	return every, nil
}
