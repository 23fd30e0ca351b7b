package control

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"
)

// widestGap is how many registers between two values are read along to save a
// request; longestBlock is the most that one request may ask for.
const (
	widestGap    = 32
	longestBlock = 125
)

// declaredInverter is an inverter whose registers the bench file lists.
type declaredInverter struct {
	power                       []*register
	soc, reserve                *register
	chargeLimit, dischargeLimit *register
	mode, setpoint              *register
	revert                      time.Duration

	selfConsumption, followSetpoint uint64 // raw values of the mode
	modeNow                         uint64
	modeKnown                       bool
	reserveSOC                      Reading

	spans       []span
	gapsRefused bool
}

// span is one read that covers several values.
type span struct {
	table     string
	from, end uint32
	values    []*register
}

func newDeclaredInverter(d deviceEntry, revert time.Duration) *declaredInverter {
	v := &declaredInverter{revert: revert,
		power: d.parts("ac_power"), soc: d.register("soc"), reserve: d.register("reserve_soc", "reserve"),
		chargeLimit: d.register("charge_limit"), dischargeLimit: d.register("discharge_limit"),
	}
	if m := d.register("mode"); m != nil && m.writable {
		if own, ok := m.raw("self-consumption"); ok {
			v.mode, v.selfConsumption = m, own
			if follow, ok := m.raw("setpoint"); ok {
				v.setpoint, v.followSetpoint = d.register("setpoint"), follow
			}
		}
	}
	v.plan(widestGap)
	return v
}

// plan groups what is polled into as few reads as the gaps allow.
func (v *declaredInverter) plan(gap uint32) {
	values := slices.Clone(v.power)
	if v.soc != nil {
		values = append(values, v.soc)
	}
	slices.SortFunc(values, func(a, b *register) int {
		return cmp.Or(cmp.Compare(a.table, b.table), cmp.Compare(a.address, b.address))
	})
	v.spans = nil
	for _, r := range values {
		from, end := uint32(r.address), uint32(r.address)+uint32(r.size())
		if n := len(v.spans); n > 0 {
			last := &v.spans[n-1]
			if last.table == r.table && from <= last.end+gap && end-last.from <= longestBlock {
				last.end = max(last.end, end)
				last.values = append(last.values, r)
				continue
			}
		}
		v.spans = append(v.spans, span{table: r.table, from: from, end: end, values: []*register{r}})
	}
}

// connect reads what only an installer changes.
func (v *declaredInverter) connect(b Bus) error {
	if v.reserve != nil {
		words, err := b.Read(v.reserve.table, v.reserve.address, v.reserve.size())
		if err != nil {
			return err
		}
		v.reserveSOC = v.reserve.decode(words)
	}
	v.modeKnown = false
	if v.mode == nil {
		return nil
	}
	words, err := b.Read(v.mode.table, v.mode.address, v.mode.size())
	if err != nil {
		return err
	}
	v.modeNow, v.modeKnown = v.mode.assemble(words), true
	return nil
}

func (v *declaredInverter) poll(b Bus, u *Unit) error {
	readings := map[*register]Reading{}
	for _, s := range v.spans {
		words, err := b.Read(s.table, uint16(s.from), uint16(s.end-s.from))
		if IsRefusal(err) && !v.gapsRefused && len(s.values) > 1 {
			// The device has holes between its values: from now on they are
			// left out.
			v.gapsRefused = true
			v.plan(0)
			return v.poll(b, u)
		}
		if err != nil {
			return err
		}
		for _, r := range s.values {
			at := uint32(r.address) - s.from
			readings[r] = r.decode(words[at : at+uint32(r.size())])
		}
	}
	u.Power = Known(0)
	for _, r := range v.power {
		u.Power = u.Power.plus(readings[r])
	}
	if v.soc != nil {
		u.SOC = readings[v.soc]
	}
	if v.reserveSOC.Known {
		u.ReserveSOC = v.reserveSOC.Value
	}
	u.CanCharge = v.setpoint != nil || negative(v.dischargeLimit)
	u.CanDischarge = v.setpoint != nil || negative(v.chargeLimit)
	return nil
}

// limitable tells whether the map has what a supervisor needs.
func (v *declaredInverter) limitable() bool {
	return v.chargeLimit != nil && v.dischargeLimit != nil && v.chargeLimit.writable && v.dischargeLimit.writable
}

// negative tells whether a limit of one direction can force the other.
func negative(limit *register) bool { return limit != nil && limit.lowest() < 0 }

func (v *declaredInverter) limit(b Bus, band Band, _ Unit) error {
	if !v.limitable() {
		return fmt.Errorf("the map has no writable charge_limit and discharge_limit")
	}
	written := []*register{v.chargeLimit, v.dischargeLimit}
	if err := v.setTimers(b, leaseOf(band, v.revert)); err != nil {
		return err
	}
	forced := v.followsSetpoint(band)
	if forced {
		if err := b.Write(v.setpoint.table, v.setpoint.address, v.setpoint.encode(setpointOf(band))); err != nil {
			return err
		}
		written = append(written, v.setpoint)
	}
	if err := v.writeLimits(b, band); err != nil {
		return err
	}
	if err := enable(b, written); err != nil {
		return err
	}
	return v.setMode(b, forced)
}

// followsSetpoint tells whether a band is brought about by a setpoint.
func (v *declaredInverter) followsSetpoint(band Band) bool {
	byLimit := band.MinW > 0 && negative(v.dischargeLimit) || band.MaxW < 0 && negative(v.chargeLimit)
	return band.forced() && !byLimit && v.setpoint != nil
}

// setpointOf is the power within a band that is closest to 0 W.
func setpointOf(band Band) float64 { return clamp(0, band.MinW, band.MaxW) }

// setMode lets the inverter follow its setpoint, or its native loop.
func (v *declaredInverter) setMode(b Bus, forced bool) error {
	if !v.modeKnown {
		return nil
	}
	mode := v.selfConsumption
	if forced {
		mode = v.followSetpoint
	}
	if mode == v.modeNow && !forced {
		return nil // a mode that is not the native one may have lapsed
	}
	if err := b.Write(v.mode.table, v.mode.address, v.mode.spread(mode)); err != nil {
		return err
	}
	v.modeNow = mode
	return enable(b, []*register{v.mode})
}

// writeLimits writes both limits, in one request where they stand side by side.
func (v *declaredInverter) writeLimits(b Bus, band Band) error {
	c, d := v.chargeLimit, v.dischargeLimit
	charge, discharge := c.encode(math.Max(band.MaxW, c.lowest())), d.encode(math.Max(-band.MinW, d.lowest()))
	if c.table == d.table && c.address+c.size() == d.address {
		return b.Write(c.table, c.address, append(charge, discharge...))
	}
	if c.table == d.table && d.address+d.size() == c.address {
		return b.Write(d.table, d.address, append(discharge, charge...))
	}
	if err := b.Write(c.table, c.address, charge); err != nil {
		return err
	}
	return b.Write(d.table, d.address, discharge)
}

// enable sets the bits without which a device stores what was written but does
// not obey it.
func enable(b Bus, written []*register) error {
	for _, r := range written {
		if r.needs == nil {
			continue
		}
		words, err := b.Read(r.needs.Table, r.needs.Address, 1)
		if err != nil {
			return err
		}
		if mask, raw := uint16(r.needs.Mask), uint16(r.needs.Raw); words[0]&mask != raw {
			if err := b.Write(r.needs.Table, r.needs.Address, []uint16{words[0]&^mask | raw}); err != nil {
				return err
			}
		}
	}
	return nil
}

// setTimers tells a device that has a register for it when it is to forget
// limits that are not renewed.
func (v *declaredInverter) setTimers(b Bus, lease time.Duration) error {
	var done []uint16
	for _, r := range []*register{v.chargeLimit, v.dischargeLimit} {
		if r.timer == nil || slices.Contains(done, *r.timer) {
			continue
		}
		if err := b.Write("holding", *r.timer, []uint16{uint16(lease / time.Second)}); err != nil {
			return err
		}
		done = append(done, *r.timer)
	}
	return nil
}

// renew writes only the setpoint where nothing else is forgotten.
func (v *declaredInverter) renew(b Bus, band Band, u Unit) error {
	if v.followsSetpoint(band) && v.setpoint.lastsS > 0 && v.setpoint.needs == nil &&
		v.chargeLimit.lastsS == 0 && v.dischargeLimit.lastsS == 0 && v.mode.lastsS == 0 {
		return b.Write(v.setpoint.table, v.setpoint.address, v.setpoint.encode(setpointOf(band)))
	}
	return v.limit(b, band, u)
}

// kept is always so: the limits are not read back. They are renewed in time.
func (v *declaredInverter) kept(Band, Unit) bool { return true }

func (v *declaredInverter) lease(band Band) time.Duration {
	if !v.limitable() {
		return 0
	}
	var least time.Duration
	written := []*register{v.chargeLimit, v.dischargeLimit}
	if v.followsSetpoint(band) {
		written = append(written, v.setpoint)
	}
	for _, r := range written {
		lasts := time.Duration(r.lastsS * float64(time.Second))
		if r.timer != nil {
			lasts = leaseOf(band, v.revert)
		}
		if lasts > 0 && (least == 0 || lasts < least) {
			least = lasts
		}
	}
	return least
}
