package control

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"
)

// supervisor is the controller at run time: the devices, the clock and the policy.
type supervisor struct {
	options
	bench  *benchFile
	log    io.Writer
	now    time.Duration
	clock  *benchClock
	grid   *gauge
	cheap  *gauge // nil where no tariff signal can be read
	fleet  []*battery
	mind   Mind
	frozen bool // the grid meter is not believed
}

// Wall times for replies outside stepped pace, and for letting go at the end.
const (
	slowReply   = 2 * time.Second // of simulated time
	leastReply  = 200 * time.Millisecond
	lastGoodbye = 5 * time.Second
)

// replyTimeout is the wall time that a device has for a reply. In stepped pace, and where the bench follows,
// a silent link is ended by the bench, at an instant of simulated time.
func replyTimeout(b *benchFile) time.Duration {
	if b.stepped() || b.follows() {
		return longestWait
	}
	speed, _ := b.speed() // checked when the file was read
	return max(time.Duration(float64(slowReply)/speed), leastReply)
}

func newSupervisor(b *benchFile, o options, parts Program, log io.Writer) *supervisor {
	speed, _ := b.speed()
	s := &supervisor{options: o, bench: b, log: log, mind: &Policy{Settings: o.Settings},
		clock: &benchClock{bus: parts.between(Clock, &link{port: newPort(b.Clock.Address, false, replyTimeout(b)), unit: b.Clock.Unit}),
			timeMS: b.Clock.register("time_ms"), waitMS: b.Clock.register("wait_ms"),
			stepped: b.stepped(), follows: b.follows(), speed: speed},
	}
	if parts.Mind != nil {
		s.mind = parts.Mind(&Policy{Settings: o.Settings})
	}
	ports := map[string]*port{}
	at := func(d deviceEntry) station {
		p := ports[d.Address]
		if p == nil {
			p = newPort(d.Address, d.Link == "rtu_line", replyTimeout(b))
			ports[d.Address] = p
		}
		return station{name: d.Name, bus: parts.between(d.Name, &link{port: p, unit: d.Unit})}
	}
	for _, d := range b.Devices {
		switch {
		case d.isGridMeter():
			s.grid = &gauge{station: at(d), sensor: meterOf(d)}
		case d.isBattery():
			s.fleet = append(s.fleet, batteryOf(d, at(d), o.revert))
		case d.Kind == "tariff" && d.register("cheap_slot") != nil:
			s.cheap = &gauge{station: at(d), sensor: &declaredSensor{parts: d.parts("cheap_slot")}}
		}
	}
	return s
}

func meterOf(d deviceEntry) sensor {
	if d.sunspec() {
		return &sunspecMeter{base: d.chainBase(), sign: signOr(d.Sign, 1)}
	}
	return &declaredSensor{parts: d.parts("ac_power")}
}

func batteryOf(d deviceEntry, at station, revert time.Duration) *battery {
	v := &battery{station: at, unit: Unit{Name: d.Name, Commanded: d.Command,
		ChargeMaxW: d.RatingW, DischargeMaxW: d.RatingW, CapacityWh: d.CapacityWh}}
	if d.sunspec() {
		// The usual reading counts generation as positive.
		v.inverter = &sunspecInverter{base: d.chainBase(), sign: signOr(d.Sign, -1), revert: revert}
		return v
	}
	declared := newDeclaredInverter(d, revert)
	v.inverter = declared
	v.unit.Commanded = d.Command && declared.limitable()
	return v
}

func signOr(sign, usual float64) float64 {
	switch {
	case sign > 0:
		return 1
	case sign < 0:
		return -1
	}
	return usual
}

// say writes one line of the log: local time in the simulation and plain words.
func (s *supervisor) say(text string) {
	fmt.Fprintf(s.log, "%s %s\n", s.bench.at(s.now), text)
}

// run polls until the bench closes or the context ends.
func (s *supervisor) run(ctx context.Context) error {
	if _, err := s.clock.now(); err != nil {
		return fmt.Errorf("the bench clock at %s does not answer: %w", s.bench.Clock.Address, err)
	}
	for {
		now, err := s.clock.now()
		if err != nil && !s.bench.stepped() && !s.bench.follows() {
			now, err = s.clock.now() // over a new connection
		}
		if err != nil {
			s.say("bench closed")
			return nil
		}
		s.now = now
		s.poll()
		// Polls keep to multiples of the period, however long the last one took.
		err = s.clock.wait(ctx, s.period-now%s.period)
		switch {
		case ctx.Err() != nil && (err == nil || errors.Is(err, ctx.Err())):
			s.release()
			return nil
		case IsRefusal(err):
			return fmt.Errorf("the bench clock refuses to wait: %w", err)
		case err != nil:
			s.say("bench closed")
			return nil
		}
	}
}

// poll reads all devices, decides, and writes what changes.
func (s *supervisor) poll() {
	s.grid.refresh(s.now, s.staleAfter, s.say)
	cheap := Reading{}
	if s.cheap != nil {
		s.cheap.refresh(s.now, s.staleAfter, s.say)
		cheap = s.cheap.value
	}
	shot := Snapshot{At: s.now, Grid: s.grid.value, ImportLimitW: s.bench.Supply.importLimitW(),
		Cheap: cheap.Known && cheap.Value != 0}
	for _, v := range s.fleet {
		v.refresh(s.now, s.staleAfter, s.say)
		shot.Units = append(shot.Units, v.unit)
	}
	commands := s.mind.Decide(shot)
	if frozen := s.mind.GridFrozen(); frozen != s.frozen {
		s.frozen = frozen
		if frozen {
			s.say(s.grid.name + " has told the same for a minute while batteries moved: it is not believed")
		} else {
			s.say(s.grid.name + " moves again: it is believed")
		}
	}
	for _, c := range commands {
		for _, v := range s.fleet {
			if v.name == c.Unit {
				v.want, v.wanted, v.sent = c.Band, true, false
				s.say(fmt.Sprintf("%s %v: %s", c.Unit, c.Band, c.Why))
			}
		}
	}
	for _, v := range s.fleet {
		v.obey(s.now, s.period, s.say)
	}
}

// release leaves all inverters to their native loops. It does not wait for
// one that has fallen silent.
func (s *supervisor) release() {
	done := make(chan string, 1)
	go func() {
		text := "stopped, limits released"
		for _, v := range s.fleet {
			if err := v.release(); err != nil {
				text = fmt.Sprintf("stopped; %s could not be released: %v", v.name, err)
			}
		}
		done <- text
	}()
	select {
	case text := <-done:
		s.say(text)
	case <-time.After(lastGoodbye):
		s.say("stopped; a device that does not answer could not be released")
	}
}
