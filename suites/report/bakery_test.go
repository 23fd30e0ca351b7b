package report_test

import (
	"math"
	"strings"
	"time"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

// bakery makes up a day as the bench might record it: an oven that cycles
// from four in the morning, the sun over the roof with a cloud at noon, a van
// that charges from half past ten, and two batteries that drift apart in the
// afternoon. It is drawn by formulas and proves nothing about the plant.
func bakery(hours float64) report.Series {
	n := int(hours*3600) + 1
	column := func(name, label, device, unit string, kind report.Kind) report.Column {
		return report.Column{Name: name, Label: label, Device: device, Unit: unit, Kind: kind, Values: make([]float64, n)}
	}
	grid := column("grid.power", "grid flow", "", "W", report.Grid)
	grid.Min, grid.Max = make([]float64, n), make([]float64, n)
	net := column("site.net_load", "net load without batteries", "", "W", report.NetLoad)
	oven := column("deck_oven.power", "deck oven", "deck_oven", "W", report.Load)
	proofers := column("proofers.power", "proofers", "proofers", "W", report.Load)
	mixer := column("mixer.power", "mixer", "mixer", "W", report.Load)
	roof := column("roof.power", "roof PV", "roof", "W", report.Array)
	van := column("van_charger.power", "van charger", "van_charger", "W", report.Charger)
	north := column("north.power", "north", "north", "W", report.Inverter)
	south := column("south.power", "south", "south", "W", report.Inverter)
	circulating := column("site.circulating", "circulating power", "", "W", report.Circulating)
	northSOC := column("north.soc", "north", "north", "", report.SOC)
	southSOC := column("south.soc", "south", "south", "", report.SOC)
	socN, socS := 0.35, 0.45
	between := func(t, from, to float64) bool { return t >= from*3600 && t < to*3600 }
	for i := range n {
		t := float64(i)
		if phase := math.Mod(t, 840); between(t, 4, 11.5) && phase < 380 {
			oven.Values[i] = 9000
		}
		if phase := math.Mod(t, 300); between(t, 3, 12) && phase < 140 {
			proofers.Values[i] = 1600
		}
		if phase := math.Mod(t, 2700); between(t, 3.5, 10) && phase < 500 {
			mixer.Values[i] = 2200 + 300*math.Sin(t/7)
			if phase < 2 {
				mixer.Values[i] = 6800
			}
		}
		sun := math.Max(0, math.Sin((t/3600-4.2)/17*math.Pi))
		if !between(t, 4.2, 21.2) {
			sun = 0
		}
		cloud := 1 - 0.75/(1+math.Pow((t-12.2*3600)/500, 6))
		roof.Values[i] = -11000 * math.Pow(sun, 1.3) * cloud
		if between(t, 10.5, 13.5) {
			van.Values[i] = 7300 * math.Min(1, (t-10.5*3600)/20)
		}
		given := 450 + oven.Values[i] + proofers.Values[i] + mixer.Values[i] + roof.Values[i] + van.Values[i]
		net.Values[i] = given
		share := func(soc float64) float64 {
			want := math.Max(-4600, math.Min(4600, -given*0.5))
			if want > 0 && soc > 0.98 || want < 0 && soc < 0.08 {
				return 0
			}
			return want
		}
		north.Values[i], south.Values[i] = share(socN), share(socS)
		if between(t, 2, 4) { // The cheap hours.
			north.Values[i], south.Values[i] = 3000, 3600
		}
		if between(t, 15, 15.75) {
			drift := 900 * math.Min(1, (t-15*3600)/1500)
			north.Values[i] = 700 + drift
			south.Values[i] = -drift
		}
		circulating.Values[i] = math.Max(0, math.Min(math.Max(north.Values[i], south.Values[i]), -math.Min(north.Values[i], south.Values[i])))
		socN += north.Values[i] / 3600 / 14000
		socS += south.Values[i] / 3600 / 11000
		socN, socS = math.Min(1, math.Max(0, socN)), math.Min(1, math.Max(0, socS))
		northSOC.Values[i], southSOC.Values[i] = socN, socS
		grid.Values[i] = given + north.Values[i] + south.Values[i] + 60*math.Sin(t*1.7)
		grid.Min[i], grid.Max[i] = grid.Values[i]-120-40*math.Sin(t/11), grid.Values[i]+140+50*math.Cos(t/13)
		if between(t, 10.51, 10.545) { // Both batteries lag behind the van's start.
			grid.Values[i] = 19800 * (1 - math.Max(0, t-37854)/130)
			grid.Max[i], grid.Min[i] = grid.Values[i]+200, grid.Values[i]-200
		}
	}
	zone := time.FixedZone("CEST", 2*3600)
	s := report.Series{
		StartLocal: time.Date(2026, 6, 18, 0, 0, 0, 0, zone),
		Columns: []report.Column{grid, net, oven, proofers, mixer, roof, van, north, south, circulating, northSOC,
			southSOC},
		Bounds: report.Bounds{ImportW: verdict.Of(13500), ExportW: verdict.Of(5000),
			Wanted: []report.Window{{FromS: 2 * 3600, ToS: 4 * 3600, Label: "cheap hours, import wanted"}}},
		Marks: []report.Mark{
			{AtS: 2 * 3600, Label: "cheap hours begin", Kind: report.Event},
			{AtS: 4 * 3600, Label: "cheap hours end, the deck oven heats up", Kind: report.Event},
			{AtS: 10.5 * 3600, Label: "the van plugs in with 32 A", Kind: report.Event},
			{AtS: 12.2 * 3600, Label: "cloud, depth 75 %", Kind: report.Event},
			{AtS: 12.25 * 3600, Label: "link of north falls silent for 30 s", Kind: report.Fault},
			{AtS: 15 * 3600, Label: "offset of the meter of south becomes 60 W", Kind: report.Fault},
		},
	}
	for t := 0; t < n-1; t += 10 {
		for _, c := range []report.Column{north, south} {
			s.Marks = append(s.Marks, report.Mark{AtS: float64(t), Kind: report.Command, Lane: c.Device + " setpoint",
				Value: math.Round(c.Values[t]/100) * 100, Unit: "W"})
		}
	}
	for i, mode := range []string{"self-consumption", "charge", "self-consumption"} {
		s.Marks = append(s.Marks, report.Mark{AtS: float64(i) * 2 * 3600, Kind: report.Command, Lane: "north mode",
			Label: mode, Value: math.NaN()})
	}
	return s
}

// judged is the finding that goes with the day.
func judged() verdict.Run {
	return verdict.New(verdict.Run{
		Scenario: "van-on-fuse", Title: "The van charges while the oven heats", Site: "bakery", Seed: 7, Pace: "stepped",
		Controller: "steady", StartedLocal: "2026-06-18 00:00 Europe/Oslo", StepMS: verdict.Of(100),
		DurationS: verdict.Seconds(86400), TraceSHA256: strings.Repeat("3fa9", 16),
		Audit: verdict.Audit{WorstNodeW: verdict.Of(3.6e-12), WorstNode: "main board", WorstAtS: verdict.Seconds(37840.1),
			EnergyResidualWh: verdict.Of(-2.1e-9), LimitW: verdict.Of(1e-6), LimitWh: verdict.Of(1e-3)},
		Reproduce: "kilter check --scenario van-on-fuse --seed 7 --pace stepped -- kilter steady",
		Criteria: []verdict.Criterion{
			{Name: "import", Clause: "level", Status: verdict.Failed, Bound: verdict.AtMost, Unit: "W",
				Observed: verdict.Of(19820), Limit: verdict.Of(13500), Margin: verdict.Of(-6320), AtS: verdict.Seconds(37842),
				FromS: verdict.Seconds(37836), ToS: verdict.Seconds(37890), Columns: []string{"grid.power"},
				FirstS: verdict.Seconds(37836), Allowance: "except up to 2 s",
				Detail:  "the grid flow stayed above the limit for 54 s, and 2 s are allowed",
				Formula: "limit - max over windows of 2 s of min over the window of grid flow"},
			{Name: "export", Clause: "level", Status: verdict.Passed, Bound: verdict.AtMost, Unit: "W",
				Observed: verdict.Of(1204.7), Limit: verdict.Of(5000), Margin: verdict.Of(3795.3), AtS: verdict.Seconds(50401)},
			{Name: "settle", Status: verdict.Passed, Bound: verdict.AtMost, Unit: "s",
				Observed: verdict.Of(48), Limit: verdict.Of(60), Margin: verdict.Of(12), AtS: verdict.Seconds(37848)},
			{Name: "hunting", Status: verdict.Passed, Bound: verdict.AtMost, Unit: "W",
				Observed: verdict.Of(62.4), Limit: verdict.Of(150), Margin: verdict.Of(87.6), AtS: verdict.Seconds(44010)},
			{Name: "circulating", Clause: "level", Status: verdict.Failed, Bound: verdict.AtMost, Unit: "W",
				Observed: verdict.Of(900), Limit: verdict.Of(120), Margin: verdict.Of(-780), AtS: verdict.Seconds(55500),
				FromS: verdict.Seconds(54200), ToS: verdict.Seconds(56700), Columns: []string{"site.circulating"},
				TraceLimit: verdict.Of(120), FirstS: verdict.Seconds(54210), Allowance: "except up to 30 s",
				Detail: "north charged while south discharged for 41 min, and 30 s are allowed"},
			{Name: "soc_spread", Status: verdict.Failed, Bound: verdict.AtMost, Unit: "%",
				Observed: verdict.Of(14.2), Limit: verdict.Of(8), Margin: verdict.Of(-6.2), AtS: verdict.Seconds(57000)},
			{Name: "reserve", Status: verdict.NotExercised, Unit: "%", Limit: verdict.Of(8), Bound: verdict.AtLeast,
				Detail: "no battery came near its reserve"},
			{Name: "schedule", Status: verdict.Undetermined, Unit: "%", Detail: "the window ends after the run"},
			{Name: "command_economy", Clause: "writes per hour", Status: verdict.Passed, Bound: verdict.AtMost, Unit: "writes/h",
				Observed: verdict.Of(360), Limit: verdict.Of(400), Margin: verdict.Of(40)},
		},
		Cautions: []string{"The deck oven was given as a recorded load; a real thermostat would answer the supply's voltage."},
	}).Runs[0]
}

func wiring() report.Wiring {
	return report.Wiring{Name: "supply", Kind: "grid connection", Detail: "3 phases, main fuse 25 A", Within: []report.Wiring{
		{Name: "inlet", Kind: "meter", Sees: []string{"all devices"}},
		{Name: "main board", Kind: "feeder", Within: []report.Wiring{
			{Name: "deck_oven", Kind: "load", Detail: "9 kW on a thermostat"},
			{Name: "proofers", Kind: "load"}, {Name: "mixer", Kind: "load"},
			{Name: "van_charger", Kind: "charger", Detail: "32 A"},
			{Name: "annex", Kind: "feeder", Within: []report.Wiring{
				{Name: "annex_meter", Kind: "meter", Sees: []string{"roof", "north", "south"}},
				{Name: "roof", Kind: "array", Detail: "12 kWp"},
				{Name: "north", Kind: "inverter", Detail: "4.6 kW, 14 kWh"},
				{Name: "south", Kind: "inverter", Detail: "4.6 kW, 11 kWh"},
			}},
		}},
	}}
}
