package control

import (
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"
)

// benchFile says where everything is. Fields that steady does not know are
// left alone, since the bench may tell other controllers more.
type benchFile struct {
	Format   int           `json:"format"`
	Scenario string        `json:"scenario"`
	Pace     string        `json:"pace"`
	Zone     string        `json:"zone"`
	Starts   time.Time     `json:"starts"`
	Supply   supplyEntry   `json:"supply"`
	Clock    deviceEntry   `json:"clock"`
	Devices  []deviceEntry `json:"devices"`
}

type supplyEntry struct {
	Phases       int     `json:"phases"`
	VoltageV     float64 `json:"voltage_v"`
	FuseA        float64 `json:"fuse_a"`
	ImportLimitW float64 `json:"import_limit_w"`
}

// importLimitW is the agreed limit, and without one what the main fuse carries.
func (s supplyEntry) importLimitW() float64 {
	if s.ImportLimitW > 0 {
		return s.ImportLimitW
	}
	return float64(s.Phases) * s.VoltageV * s.FuseA
}

type deviceEntry struct {
	Name       string      `json:"name"`
	Kind       string      `json:"kind"` // meter, inverter, charger, tariff
	Role       string      `json:"role"` // grid, battery
	Address    string      `json:"address"`
	Unit       byte        `json:"unit"`
	Link       string      `json:"link"` // empty, gateway or rtu_line
	Map        string      `json:"map"`
	Base       *uint16     `json:"base"`
	Sign       float64     `json:"sign"` // of powers in a SunSpec chain; 0 means the usual reading
	Command    bool        `json:"command"`
	RatingW    float64     `json:"rating_w"`
	CapacityWh float64     `json:"capacity_wh"`
	Registers  registerSet `json:"registers"`
}

// sunspec tells whether the device is read through a chain of models.
func (d deviceEntry) sunspec() bool {
	return strings.HasPrefix(d.Map, "sunspec") || len(d.Registers) == 0
}

// chainBase is where the chain of a SunSpec device starts.
func (d deviceEntry) chainBase() uint16 {
	if d.Base == nil {
		return 40000
	}
	return *d.Base
}

// register finds a declared value; it is nil where the device has none.
func (d deviceEntry) register(signals ...string) *register {
	for _, signal := range signals {
		for i := range d.Registers {
			if d.Registers[i].signal == signal {
				return &d.Registers[i]
			}
		}
	}
	return nil
}

// parts are the registers whose sum is a declared value: several where each
// shows one direction only.
func (d deviceEntry) parts(signal string) []*register {
	var parts []*register
	for i := range d.Registers {
		r := &d.Registers[i]
		if r.signal == signal && (len(parts) == 0 || r.oneWay && parts[0].oneWay) {
			parts = append(parts, r)
		}
	}
	return parts
}

// loadBench reads the bench file, whose text change may alter. Its errors name the
// file, the field, what was found and what would be right.
func loadBench(path string, change func([]byte) ([]byte, error)) (*benchFile, error) {
	data, err := os.ReadFile(path)
	if err == nil && change != nil {
		data, err = change(data)
	}
	if err != nil {
		return nil, err
	}
	var b benchFile
	if err := json.Unmarshal(data, &b); err != nil {
		line := 1
		if at, ok := err.(*json.SyntaxError); ok {
			line += strings.Count(string(data[:at.Offset]), "\n")
			return nil, fmt.Errorf("%s:%d: %v", path, line, err)
		}
		if at, ok := err.(*json.UnmarshalTypeError); ok {
			line += strings.Count(string(data[:at.Offset]), "\n")
			return nil, fmt.Errorf("%s:%d: %s is a JSON %s: must be a %v", path, line, at.Field, at.Value, at.Type)
		}
		return nil, fmt.Errorf("%s: %v", path, err)
	}
	if err := b.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &b, nil
}

func (b *benchFile) check() error {
	if b.Format != 1 {
		return fmt.Errorf("format is %d: must be 1", b.Format)
	}
	if _, err := b.speed(); err != nil {
		return err
	}
	meters, batteries := 0, 0
	for _, d := range b.Devices {
		if d.Link != "" && d.Link != "gateway" && d.Link != "rtu_line" {
			return fmt.Errorf("devices, %s: link is %q: this controller speaks Modbus TCP, also to a gateway, and RTU on a serial line (rtu_line)", d.Name, d.Link)
		}
		switch {
		case d.isGridMeter():
			meters++
		case d.isBattery():
			batteries++
			if d.RatingW < 0 || d.CapacityWh < 0 {
				return fmt.Errorf("devices, %s: rating_w %g and capacity_wh %g must not be negative", d.Name, d.RatingW, d.CapacityWh)
			}
			if !d.sunspec() && d.register("ac_power") == nil {
				return fmt.Errorf("devices, %s: registers has no ac_power: a battery's power must be readable", d.Name)
			}
		}
		for i := range d.Registers {
			r := &d.Registers[i]
			if err := r.check(); err != nil && wanted(r.signal) && !d.sunspec() {
				return fmt.Errorf("devices, %s: registers, %s: %w", d.Name, r.signal, err)
			}
		}
	}
	if meters != 1 {
		return fmt.Errorf("devices has %d meters with the role grid: must have one", meters)
	}
	if batteries == 0 {
		return fmt.Errorf("devices has no inverter with the role battery: must have at least one")
	}
	for _, name := range []string{"time_ms", "wait_ms"} {
		r := b.Clock.register(name)
		if r == nil {
			return fmt.Errorf("clock: registers has no %s", name)
		}
		if err := r.check(); err != nil {
			return fmt.Errorf("clock: registers, %s: %w", name, err)
		}
	}
	return nil
}

// wanted tells whether steady uses a value of that name.
func wanted(name string) bool {
	switch name {
	case "ac_power", "soc", "reserve_soc", "reserve", "charge_limit", "discharge_limit", "mode", "setpoint", "cheap_slot":
		return true
	}
	return false
}

func (d deviceEntry) isGridMeter() bool { return d.Kind == "meter" && d.Role == "grid" }

func (d deviceEntry) isBattery() bool { return d.Kind == "inverter" && d.Role == "battery" }

// stepped tells whether simulated time moves only while the controller waits.
func (b *benchFile) stepped() bool { return b.Pace == "stepped" }

// follows tells whether simulated time moves by a poll period when the controller begins its next poll.
func (b *benchFile) follows() bool { return b.Pace == "follow" }

// speed is how many seconds of simulated time pass in one of wall time, in the
// paces that do not step: real is 1, and x10 is 10.
func (b *benchFile) speed() (float64, error) {
	switch {
	case b.Pace == "" || b.Pace == "real" || b.stepped() || b.follows():
		return 1, nil
	case strings.HasPrefix(b.Pace, "x"):
		if n, err := strconv.ParseFloat(b.Pace[1:], 64); err == nil && n > 0 && n <= 1e6 {
			return n, nil
		}
	}
	return 0, fmt.Errorf("pace is %q: must be real, stepped, follow, or x and a number such as x10", b.Pace)
}

// at is the local time of a simulated instant, for the log.
func (b *benchFile) at(t time.Duration) string {
	when := b.Starts.Add(t)
	if zone, err := time.LoadLocation(b.Zone); err == nil && b.Zone != "" {
		when = when.In(zone)
	}
	return when.Format("15:04:05")
}
