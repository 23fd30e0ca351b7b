package control

import (
	"fmt"
	"time"
)

// renewEvery is how often a limit without a lease is written again, should the
// device have lost it in a restart that nobody saw.
const renewEvery = 5 * time.Minute

// battery is an inverter at its station, with the band that it is to have.
type battery struct {
	station
	inverter inverter
	unit     Unit // as read last

	want    Band
	wanted  bool
	sent    bool
	sentAt  time.Duration
	rewrite backoff // after a refused write
	refused bool    // the refusal was logged
}

// gauge is a sensor at its station, with its last value.
type gauge struct {
	station
	sensor sensor
	value  Reading
}

// refresh reads the value, which is kept for some polls without data.
func (g *gauge) refresh(now time.Duration, staleAfter int, log func(string)) {
	fresh := g.visit(now, log, g.sensor.connect, func(b Bus) error {
		value, err := g.sensor.poll(b)
		if err == nil {
			g.value = value
		}
		return err
	})
	if !fresh && g.misses >= staleAfter {
		g.value = Reading{}
	}
}

// refresh reads the unit, whose values are kept for some polls without data.
func (v *battery) refresh(now time.Duration, staleAfter int, log func(string)) {
	wasReady := v.ready
	fresh := v.visit(now, log, v.inverter.connect, func(b Bus) error { return v.inverter.poll(b, &v.unit) })
	if !wasReady {
		v.sent = false // nobody knows what it remembers
	}
	if !fresh && v.misses >= staleAfter {
		v.unit.Power, v.unit.SOC = Reading{}, Reading{}
	}
}

// obey writes the band where the device does not have it yet, may have lost
// it, or would forget it before the poll after the next: so one write may fail.
func (v *battery) obey(now, period time.Duration, log func(string)) {
	if !v.wanted || !v.ready || v.misses > 0 || now < v.rewrite.until {
		return
	}
	free := v.want.free(v.unit)
	write := v.inverter.limit
	if v.sent && v.inverter.kept(v.want, v.unit) {
		lease := v.inverter.lease(v.want)
		due := now-v.sentAt >= renewEvery
		if lease > 0 {
			due = now-v.sentAt+2*period >= lease
		}
		if free || !due {
			return
		}
		write = v.inverter.renew
	}
	err := write(v.bus, v.want, v.unit)
	if err == nil {
		v.sent, v.sentAt, v.rewrite = true, now, backoff{}
		if v.refused {
			v.refused = false
			log(v.name + " takes its limits again")
		}
		return
	}
	v.sent = false
	if !IsRefusal(err) {
		v.ready = false
	}
	v.rewrite.fail(now)
	if !v.refused {
		v.refused = true
		log(fmt.Sprintf("%s does not take its limits: %v", v.name, err))
	}
}

// release leaves the inverter to its native loop.
func (v *battery) release() error {
	if !v.ready || !v.unit.Commanded {
		return nil
	}
	return v.inverter.limit(v.bus, v.unit.free(), v.unit)
}
