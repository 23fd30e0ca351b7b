package wrong

import (
	"math"
	"time"

	"kilter/cmd/steady/control"
)

// readings are faults in what registers mean.
var readings = []Fault{
	{
		Name: "sign-flipped", Does: "takes south's discharging for charging, and the other way round",
		Shows: Shows{"inverter-trip", "import", 5 * time.Minute, 6 * time.Minute},
		make: misreads(func(file entry) {
			power := file.device("south").point("ac_power")
			power["sign"] = -power.number("sign")
		}),
	},
	{
		Name: "grid-sign-flipped", Does: "takes import for export at the grid meter",
		Shows: Shows{"inverter-trip", "import", 5 * time.Minute, 6 * time.Minute},
		make: misreads(func(file entry) {
			meter := file.device("grid_meter")
			meter["sign"] = -meter.number("sign")
		}),
	},
	{
		Name: "kw-for-w", Does: "writes south's limits in kilowatts to registers that hold watts",
		Shows: Shows{"inverter-trip", "import", 5 * time.Minute, 306 * time.Second},
		make: misreads(func(file entry) {
			for _, signal := range []string{"charge_limit", "discharge_limit"} {
				file.device("south").point(signal)["unit"] = "kW"
			}
		}),
	},
	{
		Name: "word-order", Does: "reads south's 32-bit power with the high word first, whose low word comes first",
		Shows: Shows{"cheap-hours", "import", 60 * time.Minute, 3630 * time.Second},
		make: misreads(func(file entry) {
			file.device("south").point("ac_power")["word_order"] = "high word first"
		}),
	},
	{
		Name: "unsigned", Does: "reads south's signed power as an unsigned number, so that charging looks like four gigawatts",
		Shows: Shows{"solar-surge", "circulating", 3 * time.Minute, 4 * time.Minute},
		make: misreads(func(file entry) {
			file.device("south").point("ac_power")["type"] = "uint32"
		}),
	},
	{
		Name: "counts-from-one", Does: "counts south's registers from one, and so reads and writes each one's neighbour",
		Shows: Shows{"left-alone", "circulating", 1 * time.Minute, 10 * time.Minute},
		make: misreads(func(file entry) {
			for _, p := range file.device("south").points() {
				p["address"] = p.number("address") + 1
			}
		}),
	},
	{
		Name: "limits-crossed", Does: "writes south's charge limit to the register of its discharge limit, and the other way round",
		Shows: Shows{"inverter-trip", "import", 5 * time.Minute, 306 * time.Second},
		make: misreads(func(file entry) {
			c, d := file.device("south").point("charge_limit"), file.device("south").point("discharge_limit")
			c["address"], d["address"] = d["address"], c["address"]
		}),
	},
	{
		Name: "forgets-one", Does: "knows only the first inverter that it finds",
		Shows: Shows{"left-alone", "circulating", 1 * time.Minute, 10 * time.Minute},
		make: misreads(func(file entry) {
			file.device("south")["kind"] = "unknown"
		}),
	},
	{
		Name: "ignores-scale-factor", Does: "writes north's rates in whole percent, whatever the scale factor is, so that 100 % becomes 1 %",
		Shows: Shows{"irregular-slot", "soc_spread", 7 * time.Minute, 19 * time.Minute},
		make: reads("north", func(words []uint16) {
			if isStorage(words) {
				words[storageRateScale] = 0
			}
		}),
	},
	{
		Name: "not-implemented-as-number", Does: "goes by the stored charge that north does not implement, and takes 65535 for full",
		Shows: Shows{"cheap-hours", "soc_spread", 30 * time.Minute, 60 * time.Minute},
		make: reads("north", func(words []uint16) {
			if isStorage(words) {
				words[storageSOC] = min(words[storageStored], math.MaxUint16-1)
			}
		}),
	},
	{
		Name: "one-phase-for-all", Does: "takes the power of the first phase at the grid meter for that of all three",
		Shows: Shows{"cheap-hours", "import", 60 * time.Minute, 3630 * time.Second},
		make:  seesReading(func(s *control.Snapshot) { s.Grid.Value /= 3 }),
	},
	{
		Name: "whole-kilowatts", Does: "keeps powers in whole kilowatts, rounded towards zero",
		Shows: Shows{"left-alone", "circulating", 30 * time.Minute, 40 * time.Minute},
		make:  seesReading(eachPower(func(w float64) float64 { return 1000 * math.Trunc(w/1000) })),
	},
	{
		Name: "wraps-at-32767", Does: "keeps powers in tenths of a watt in 16 bits, which wrap at a little more than 3 kW",
		Shows: Shows{"inverter-trip", "import", 5 * time.Minute, 6 * time.Minute},
		make: seesReading(eachPower(func(w float64) float64 {
			return float64(int16(uint16(int64(math.Round(10*w))))) / 10
		})),
	},
	{
		Name: "commands-all", Does: "commands every battery that it finds, its own or not",
		Shows: Shows{"one-not-ours", "wire_manners", 0, 1 * time.Minute},
		make: misreads(func(file entry) {
			for _, name := range []string{"north", "south"} {
				file.device(name)["command"] = true
			}
		}),
	},
}

// seesReading is the reference controller that sees something else than was read.
func seesReading(change func(*control.Snapshot)) func() parts {
	return thinks(brain{see: change})
}

// eachPower changes all powers of a snapshot.
func eachPower(change func(w float64) float64) func(*control.Snapshot) {
	return func(s *control.Snapshot) {
		s.Grid.Value = change(s.Grid.Value)
		for i := range s.Units {
			s.Units[i].Power.Value = change(s.Units[i].Power.Value)
		}
	}
}
