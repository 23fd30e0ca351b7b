package atlas

import (
	"math"

	"kilter/physics"
)

// Values of protection, charging pilot, meters and control loops.

// fuseGate is one row of the gates of a gG fuse link [A] and [A2s]; 0 where the row has none.
type fuseGate struct{ rated, min10s, max5s, min100ms, max100ms, preArcing, operating float64 }

var (
	fuseGates = []fuseGate{
		{16, 33, 65, 85, 150, 300, 1000}, {20, 42, 85, 110, 200, 0, 0}, {25, 52, 110, 150, 260, 0, 0},
		{32, 75, 150, 200, 350, 1800, 5000}, {63, 160, 320, 450, 820, 9000, 27000}, {100, 290, 580, 820, 1450, 27000, 86000},
	}

	breakerLatestRows = Group{Unit: "s", Mark: Published, Rows: []Row{
		{"OC-08", math.Inf(1), []float64{22}}, {"OC-08", 3600, []float64{24}}, {"OC-08", 60, []float64{48}}, {"OC-08", 60, []float64{159}}, {"OC-08", 0.1, []float64{160}}, {"OC-08", 0.1, []float64{1000}},
	}}
	breakerEarliestRows = Group{Unit: "s", Mark: Published, Rows: []Row{
		{"OC-09", 3600, []float64{17}}, {"OC-09", 1, []float64{20}}, {"OC-09", 0.1, []float64{48}}, {"OC-09", 0.1, []float64{79}}, {"OC-09", 0, []float64{80}},
	}}
	replicaRows = Group{Unit: "τ", Tolerance: 1e-8, Mark: Recomputed, Rows: []Row{
		{"OC-15", 2.178034883, []float64{1.2}}, {"OC-15", 0.934771997, []float64{1.45}}, {"OC-15", 0.384523424, []float64{2}}, {"OC-15", 0.218617095, []float64{2.55}}, {"OC-15", 0.052426568, []float64{5}},
	}}

	pilotRows = Group{Unit: "A", Tolerance: 1e-9, Mark: Recomputed, Rows: []Row{
		{"EV-02", 6, []float64{10}}, {"EV-02", 12, []float64{20}}, {"EV-02", 15, []float64{25}}, {"EV-02", 18, []float64{30}}, {"EV-02", 30, []float64{50}},
		{"EV-02", 48, []float64{80}}, {"EV-02", 51, []float64{85}}, {"EV-02", 55, []float64{86}}, {"EV-02", 65, []float64{90}}, {"EV-02", 80, []float64{96}},
	}}
	pilotBandRows = Group{Unit: "A", Mark: Published, Rows: []Row{{"EV-01", 0, []float64{2}}, {"EV-01", 6, []float64{9}}, {"EV-01", 80, []float64{96.5}}, {"EV-01", 0, []float64{98}}}}
	dutyRows      = Group{Unit: "%", Tolerance: 1e-4, Mark: Recomputed, Rows: []Row{
		{"EV-03", 10, []float64{6}}, {"EV-03", 16.6667, []float64{10}}, {"EV-03", 21.6667, []float64{13}}, {"EV-03", 26.6667, []float64{16}}, {"EV-03", 33.3333, []float64{20}},
		{"EV-03", 41.6667, []float64{25}}, {"EV-03", 53.3333, []float64{32}}, {"EV-03", 66.6667, []float64{40}}, {"EV-03", 80, []float64{48}}, {"EV-03", 85, []float64{51}},
		{"EV-03", 89.2, []float64{63}}, {"EV-03", 92, []float64{70}}, {"EV-03", 96, []float64{80}},
	}}

	ctClasses = []struct {
		class physics.CTClass
		name  string
		id    string
		rows  [][3]float64 // % of the rated current, ratio error %, minutes; 0 minutes means no limit
	}{
		{physics.CTClass02, "0.2", "CT-04", [][3]float64{{5, 0.75, 30}, {20, 0.35, 15}, {100, 0.2, 10}, {120, 0.2, 10}}},
		{physics.CTClass05, "0.5", "CT-01", [][3]float64{{5, 1.5, 90}, {20, 0.75, 45}, {100, 0.5, 30}, {120, 0.5, 30}}},
		{physics.CTClass05S, "0.5 S", "CT-03", [][3]float64{{1, 1.5, 90}, {5, 0.75, 45}, {20, 0.5, 30}, {100, 0.5, 30}, {120, 0.5, 30}}},
		{physics.CTClass1, "1", "CT-02", [][3]float64{{5, 3, 180}, {20, 1.5, 90}, {100, 1, 60}, {120, 1, 60}}},
		{physics.CTClass3, "3", "CT-05", [][3]float64{{50, 3, 0}, {120, 3, 0}}},
		{physics.CTClass5, "5", "CT-05", [][3]float64{{50, 5, 0}, {120, 5, 0}}},
	}
	// Load angle [deg], displacement [minutes of arc].
	displacementRows = Group{Unit: "%", Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{
		{"CT-07", -0.003808, []float64{0, 30}}, {"CT-07", 1.507673, []float64{60, 30}}, {"CT-07", 3.007615, []float64{60, 60}}, {"CT-07", 4.499713, []float64{60, 90}},
		{"CT-07", 9.970668, []float64{85, 30}}, {"CT-07", -1.515288, []float64{60, -30}}, {"CT-07", -3.038076, []float64{60, -60}},
		{"CT-07", -4.568248, []float64{60, -90}}, {"CT-07", -9.978283, []float64{85, -30}},
	}}

	delayLimitRows = Group{Tolerance: 1e-9, Mark: Recomputed, Rows: []Row{
		{"ST-05", 2, []float64{0}}, {"ST-05", 1, []float64{1}}, {"ST-05", 0.618033988750, []float64{2}}, {"ST-05", 0.445041867913, []float64{3}}, {"ST-05", 0.347296355334, []float64{4}},
		{"ST-05", 0.284629676547, []float64{5}}, {"ST-06", 0.241073360511, []float64{6}}, {"ST-06", 0.184536718927, []float64{8}}, {"ST-06", 0.149460187173, []float64{10}},
	}}
	meanLimitRows = Group{Tolerance: 1e-8, Mark: Recomputed, Rows: []Row{
		{"ST-16", 2, []float64{1}}, {"ST-16", 2, []float64{2}}, {"ST-16", 1.5, []float64{3}}, {"ST-16", 1.171572875, []float64{4}}, {"ST-16", 0.954915028, []float64{5}},
		{"ST-16", 0.608963740, []float64{8}}, {"ST-16", 0.489434837, []float64{10}},
	}}
	// tau [s], d.
	lagLimitRows = Group{Tolerance: 1e-8, Mark: Recomputed, Rows: []Row{
		{"ST-20", 1, []float64{1, 0}}, {"ST-20", 0.603455793, []float64{0.5, 1}}, {"ST-20", 0.577134592, []float64{1, 1}}, {"ST-20", 0.548716753, []float64{2, 1}},
	}}
)
