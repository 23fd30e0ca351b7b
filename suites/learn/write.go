package learn

import (
	"bytes"
	"fmt"
	"math"
	"path/filepath"
	"strings"
)

// The files that are written beside each other.
const (
	SiteFile     = "site.yaml"
	ScenarioFile = "scenario.yaml"
	TraceFile    = "net-load.csv"
)

// Files are the site, the scenario and the traces by name. Where the log is coarse there are further traces, each a
// plausible filling of what lies between its values.
func (r *Result) Files() map[string][]byte {
	files := map[string][]byte{
		SiteFile: r.site(), ScenarioFile: r.scenario(),
		TraceFile: csv(rebuilt(r.rest, r.Window.Record.StepS, r.jumps), r.tailS()),
	}
	if r.Window.Record.StepS >= coarseS {
		for seed := uint64(1); seed <= fillings; seed++ {
			files[fillingFile(seed)] = csv(filling(r.rest, r.Window.Record.StepS, r.jumps, seed), r.tailS())
		}
	}
	return files
}

const fillings = 3

func fillingFile(seed uint64) string { return fmt.Sprintf("net-load-filled-%d.csv", seed) }

// goneS is how long an oscillation may live after the last disturbance, and tailS how long the scenario runs on with the rest of the
// site at rest: whether loops hunt by themselves shows only then.
func (r *Result) goneS() float64 {
	return max(60, math.Ceil(6*r.seen().Oscillation.PeriodS))
}

func (r *Result) tailS() float64 {
	if !r.seen().Oscillation.Found {
		return 0
	}
	return r.goneS() + 90
}

// csv is a trace, with its last value held for the tail.
func csv(points []point, tailS float64) []byte {
	last := points[len(points)-1]
	if tailS > 0 {
		points = append(points, point{last.atS + tailS, last.w})
	}
	return rows(points)
}

func rows(points []point) []byte {
	var b bytes.Buffer
	b.WriteString("time,power\n")
	last := int64(-1)
	for _, p := range points {
		ms := int64(math.Round(p.atS * 1000))
		if ms <= last {
			ms = last + 1
		}
		last = ms
		fmt.Fprintf(&b, "%d.%03d,%.1f\n", ms/1000, ms%1000, p.w)
	}
	return b.Bytes()
}

// told is a line's comment: where a figure comes from.
func told(e Estimate, unit string) string {
	if !e.Identifiable {
		return "not told by the log, left near a default: " + e.Why
	}
	return fmt.Sprintf("learned, 90 %% sure from %s to %s %s", figure(e.Low), figure(e.High), unit)
}

// figure writes a number with three digits.
func figure(v float64) string {
	switch {
	case math.IsInf(v, 0):
		return "any"
	case v == 0:
		return "0"
	case math.Abs(v) >= 1000:
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.3g", v)
}

// onStep rounds a time to the step of the scenario.
func onStep(s float64) float64 { return math.Round(s/closedStepS) / (1 / closedStepS) }

func (r *Result) site() []byte {
	var b bytes.Buffer
	base := strings.TrimSuffix(filepath.Base(r.Log.File), filepath.Ext(r.Log.File))
	fmt.Fprintf(&b, `# Learned from %s, %s to %s. A model that fits a log is not the site:
# look at learned.html for how well it does, and mend what you know better.
format: 1
site: learned
title: A site that behaves as in %s
supply:
  phases: 1
  meters:
    grid_meter: {refresh: 1 s, wire: {map: sunspec, unit: 100}}
`, line(filepath.Base(r.Log.File)), r.Log.At(r.Window.From).Format("2006-01-02 15:04:05"), r.Log.At(r.Window.To-1).Format("15:04:05"), line(base))
	for i, l := range r.Units {
		if r.loopless(i) {
			continue
		}
		fmt.Fprintf(&b, "    # offset: %s; refresh: %s\n", told(l.Offset, "W"), told(l.Refresh, "s"))
		d := r.devices[i]
		fmt.Fprintf(&b, "    %s_meter: {refresh: %g s, phase: %g s, offset: %.3f W}\n", l.Name, d.RefreshS, phase(&d), d.OffsetW)
	}
	fmt.Fprintf(&b, `  devices:
    # All that is neither battery nor grid, PV included, as the meters leave it over.
    rest: {load: {net: yes, profile: %s}}
`, TraceFile)
	for i := range r.Units {
		r.device(&b, i)
	}
	return b.Bytes()
}

// line makes one line of a foreign text, that no comment or key is broken by it.
func line(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || strings.ContainsRune("#:{}[]&*!|>'\"%@`", r) {
			return '_'
		}
		return r
	}, s)
}

func (r *Result) loopless(i int) bool {
	l := r.Units[i]
	return r.Cause == Controller && !math.IsNaN(l.Obeys) && l.Obeys > l.Native
}

// phase is when the loop samples for the first time in the scenario, a multiple of the bench's step within its period.
func phase(d *Device) float64 {
	p := onStep(d.PhaseS)
	for p >= d.PeriodS-1e-9 {
		p = onStep(p - d.PeriodS)
	}
	return p
}

func (r *Result) device(b *bytes.Buffer, i int) {
	l, bat := r.Units[i], r.Batteries[i]
	d := r.devices[i]
	charge, discharge := d.ChargeW, d.DischargeW
	capacity := bat.CapacityWh.Value
	if k := r.known(l.Name); k != nil {
		if !l.ChargeLimit.Identifiable {
			charge = k.RatingW
		}
		if !l.DischargeLimit.Identifiable {
			discharge = k.RatingW
		}
		if !bat.CapacityWh.Identifiable {
			capacity = k.Battery.CapacityWh
		}
	}
	rating := max(charge, discharge)
	way := math.Sqrt(bat.Efficiency.Value) / inverterEfficiency // one way, the converter taken off
	way = min(max(way, 0.5), 1)
	startW := firstKnown(r.Window.Record.Units[i].PowerW)
	startW = min(max(startW, -discharge), charge)
	fmt.Fprintf(b, "    %s:\n      inverter:\n", l.Name)
	fmt.Fprintf(b, "        # charging: %s; discharging: %s\n", told(l.ChargeLimit, "W"), told(l.DischargeLimit, "W"))
	fmt.Fprintf(b, "        rating: %.0f W\n        starts_with: %.1f W\n", rating, startW)
	fmt.Fprintf(b, "        efficiency: %g %%\n", inverterEfficiency*100)
	fmt.Fprintf(b, "        # with the meter's latency: %s\n        dead_time: %g s\n", told(l.Dead, "s"), onStep(d.DeadS))
	fmt.Fprintf(b, "        # %s\n        lag: %.2f s\n", told(l.Lag, "s"), d.LagS)
	if l.Ramp.Identifiable {
		fmt.Fprintf(b, "        # %s\n        ramp_up: %.0f W/s\n        ramp_down: %.0f W/s\n", told(l.Ramp, "W/s"), d.RampWps, d.RampWps)
	} else {
		fmt.Fprintf(b, "        # ramp: %s\n        ramp_up: %.0f W/s\n        ramp_down: %.0f W/s\n", told(l.Ramp, "W/s"), d.RampWps, d.RampWps)
	}
	fmt.Fprintf(b, "        battery:\n          # %s\n          capacity: %.0f Wh\n", told(bat.CapacityWh, "Wh"), capacity)
	fmt.Fprintf(b, "          # there and back with the converter: %s\n          charge_efficiency: %.1f %%\n          discharge_efficiency: %.1f %%\n",
		told(bat.Efficiency, ""), way*100, way*100)
	fmt.Fprintf(b, "          max_charge: %.0f W\n          max_discharge: %.0f W\n          soc: %.1f %%\n          reserve: 0 %%\n          taper_above: 100 %%\n          taper_below: 0 %%\n",
		charge*inverterEfficiency, discharge/inverterEfficiency, min(max(bat.SOC, 0.02), 0.98)*100)
	if r.loopless(i) {
		b.WriteString("        # No loop of its own: it followed commands in the log.\n")
	} else {
		fmt.Fprintf(b, "        # gain per second: %s; period: %s\n", told(l.Gain, "1/s"), told(l.Period, "s"))
		fmt.Fprintf(b, "        loop: {follows: %s_meter, gain: %.5f, period: %g s, phase: %g s}\n", l.Name, d.Gain, d.PeriodS, phase(&d))
	}
	fmt.Fprintf(b, "      wire: {map: sunspec, unit: %d}\n", i+1)
}

// inverterEfficiency is assumed of the converter, each way; a log of AC power and state of charge tells only the product with the
// battery's own.
const inverterEfficiency = 0.96

func (r *Result) scenario() []byte {
	var b bytes.Buffer
	rec := &r.Window.Record
	lasts := float64(len(rec.GridW)-1)*rec.StepS + r.tailS()
	log := r.seen()
	fmt.Fprintf(&b, "format: 1\nname: learned\nscenario: As in %s\n", line(filepath.Base(r.Log.File)))
	b.WriteString("story: |\n")
	fmt.Fprintf(&b, "  Reproduces what was logged from %s on. %s\n", r.Log.At(r.Window.From).Format("2006-01-02 15:04:05"), r.CauseText)
	b.WriteString("  What must hold is what the complaint asks for: the log itself fails it.\n")
	if tail := r.tailS(); tail > 0 {
		fmt.Fprintf(&b, "  After the log the rest of the site stands still for %.0f s: loops that hunt by themselves go on then.\n", tail)
	}
	fmt.Fprintf(&b, "site: %s\nstarts: %s\nzone: %s\nlasts: %g s\nseed: 1\n", SiteFile, r.Log.At(r.Window.From).Format("2006-01-02 15:04"), r.Log.Start.Location(), lasts)
	b.WriteString("must:\n")
	stated := false
	if log.Oscillation.Found {
		limit := math.Max(math.Round(log.Oscillation.AmplitudeW/3), 10)
		fmt.Fprintf(&b, "  # A third of the amplitude that was logged, %.0f W at a period of %.1f s.\n", log.Oscillation.AmplitudeW, log.Oscillation.PeriodS)
		fmt.Fprintf(&b, "  hunting: {below: %.0f W, gone_within: %.0f s}\n", limit, r.goneS())
		stated = true
	}
	if log.CirculatingW > 50 {
		fmt.Fprintf(&b, "  # Half of the mean that was logged, %.0f W.\n  circulating: {below: %.0f W, except: 30 s}\n", log.CirculatingW, log.CirculatingW/2)
		stated = true
	}
	if !stated {
		most := 0.0
		for _, g := range rec.GridW {
			most = max(most, g)
		}
		b.WriteString("  # The log shows neither an oscillation nor circulating power; this is the largest import in it.\n")
		fmt.Fprintf(&b, "  import: {below: %.0f W}\n", roundUp(most+100))
	}
	return b.Bytes()
}
