package atlas

// Values of grid voltage, flicker and grid-connection behaviour.

var (
	// P [W], R and X [ohm], Q [var].
	inletRows = Group{Unit: "V", Tolerance: 1e-4, Mark: Recomputed, Rows: []Row{
		{"GV-01", 228.2449, []float64{1000, 0.40, 0.25, 0}}, {"GV-02", 223.3733, []float64{3680, 0.40, 0.25, 0}}, {"GV-03", 216.2272, []float64{7360, 0.40, 0.25, 0}},
		{"GV-04", 236.1990, []float64{-3680, 0.40, 0.25, 0}}, {"GV-05", 238.3319, []float64{-5000, 0.40, 0.25, 0}}, {"GV-06", 246.0334, []float64{-10000, 0.40, 0.25, 0}},
		{"GV-07", 235.9897, []float64{-5000, 0.40, 0.25, 2180}},
		{"GV-08", 226.0805, []float64{3680, 0.24, 0.15, 0}}, {"GV-09", 235.0825, []float64{-5000, 0.24, 0.15, 0}}, {"GV-10", 239.9184, []float64{-10000, 0.24, 0.15, 0}},
		{"GV-11", 233.6715, []float64{-5000, 0.24, 0.15, 2180}},
	}}
	inletApproxRows = Group{Unit: "V", Tolerance: 1e-4, Mark: Recomputed, Rows: []Row{
		{"GV-01", -1.7391, []float64{1000, 0.40, 0.25, 0}}, {"GV-02", -6.4, []float64{3680, 0.40, 0.25, 0}}, {"GV-03", -12.8, []float64{7360, 0.40, 0.25, 0}},
		{"GV-04", 6.4, []float64{-3680, 0.40, 0.25, 0}}, {"GV-05", 8.6957, []float64{-5000, 0.40, 0.25, 0}}, {"GV-06", 17.3913, []float64{-10000, 0.40, 0.25, 0}},
		{"GV-07", 6.3261, []float64{-5000, 0.40, 0.25, 2180}},
		{"GV-08", -3.84, []float64{3680, 0.24, 0.15, 0}}, {"GV-09", 5.2174, []float64{-5000, 0.24, 0.15, 0}}, {"GV-10", 10.4348, []float64{-10000, 0.24, 0.15, 0}},
		{"GV-11", 3.7957, []float64{-5000, 0.24, 0.15, 2180}},
	}}
	inletSimulatorRows = Group{Unit: "V", Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{
		{"GV-01", 228.24488826, []float64{1000, 0.40, 0.25, 0}}, {"GV-02", 223.37325319, []float64{3680, 0.40, 0.25, 0}}, {"GV-03", 216.22722003, []float64{7360, 0.40, 0.25, 0}},
		{"GV-04", 236.19904868, []float64{-3680, 0.40, 0.25, 0}}, {"GV-05", 238.33185317, []float64{-5000, 0.40, 0.25, 0}}, {"GV-06", 246.03338884, []float64{-10000, 0.40, 0.25, 0}},
		{"GV-07", 235.98968562, []float64{-5000, 0.40, 0.25, 2180}},
		{"GV-08", 226.08046627, []float64{3680, 0.24, 0.15, 0}}, {"GV-09", 235.08246358, []float64{-5000, 0.24, 0.15, 0}}, {"GV-10", 239.91840884, []float64{-10000, 0.24, 0.15, 0}},
		{"GV-11", 233.67146623, []float64{-5000, 0.24, 0.15, 2180}},
	}}

	flickerRows = Group{Unit: "%", Tolerance: 1e-4, Mark: Recomputed, Rows: []Row{
		{"FL-06", 2.7710, []float64{1}}, {"FL-06", 2.2313, []float64{2}}, {"FL-06", 1.5085, []float64{7}}, {"FL-06", 1.3494, []float64{10}}, {"FL-06", 0.8819, []float64{39}},
	}}
	// Relative change [%], and how many of them in ten minutes.
	pstRows = Group{Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{
		{"FL-02", 0.175739, []float64{1, 1}}, {"FL-03", 0.360884, []float64{1, 10}}, {"FL-03", 0.721768, []float64{2, 10}}, {"FL-03", 1.190917, []float64{3.3, 10}},
		{"FL-04", 0.631742, []float64{1, 60}}, {"FL-04", 1.044643, []float64{1, 300}}, {"FL-05", 0.702955, []float64{4, 1}},
	}}
	// Changes a minute and their size [%] that make Pst 1 in the flickermeter, and what an independent flickermeter says.
	flickermeterPoints = [][3]float64{{1, 2.715, 0.9996}, {2, 2.191, 0.9998}, {7, 1.450, 1.0005}, {39, 0.894, 0.9996}, {110, 0.722, 0.9993}, {1620, 0.407, 0.9990}}

	// Reactive power, injecting positive, as the standards have it.
	voltVarBRows = Group{Unit: "pu", Tolerance: 1e-12, Mark: Published, Rows: []Row{
		{"GC-01", 0.44, []float64{0.92}}, {"GC-01", 0, []float64{0.98}}, {"GC-01", 0, []float64{1.02}}, {"GC-01", -0.44, []float64{1.08}},
	}}
	voltVarBMoreRows = Group{Unit: "pu", Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{
		{"GC-02", 0.44, []float64{0.90}}, {"GC-02", 0.22, []float64{0.95}}, {"GC-02", 0, []float64{1}}, {"GC-02", -0.073333, []float64{1.03}},
		{"GC-02", -0.22, []float64{1.05}}, {"GC-02", -0.44, []float64{1.10}},
	}}
	voltVarARows = Group{Unit: "pu", Tolerance: 1e-12, Mark: FromMemory, Rows: []Row{
		{"GC-04", 0.25, []float64{0.90}}, {"GC-04", 0, []float64{1}}, {"GC-04", -0.25, []float64{1.10}}, {"GC-05", 0.125, []float64{0.95}}, {"GC-05", -0.125, []float64{1.05}},
	}}
	voltVarAustraliaRows = Group{Unit: "pu", Tolerance: 1e-12, Mark: Published, Rows: []Row{
		{"GC-37", 0.44, []float64{207}}, {"GC-37", 0, []float64{220}}, {"GC-37", 0, []float64{240}}, {"GC-37", -0.60, []float64{258}},
	}}
	voltVarAustraliaMoreRows = Group{Unit: "pu", Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{
		{"GC-38", 0.22, []float64{213.5}}, {"GC-38", -0.30, []float64{249}}, {"GC-38", -0.433333, []float64{253}}, {"GC-38", -0.60, []float64{260}},
	}}
	voltWattRows             = Group{Unit: "pu", Tolerance: 1e-12, Mark: Published, Rows: []Row{{"GC-06", 1, []float64{1.06}}, {"GC-06", 0.2, []float64{1.10}}}}
	voltWattMoreRows         = Group{Unit: "pu", Tolerance: 1e-9, Mark: Recomputed, Rows: []Row{{"GC-07", 1, []float64{1.05}}, {"GC-07", 0.8, []float64{1.07}}, {"GC-07", 0.6, []float64{1.08}}, {"GC-07", 0.4, []float64{1.09}}}}
	voltWattAustraliaRows    = Group{Unit: "pu", Tolerance: 1e-12, Mark: Published, Rows: []Row{{"GC-39", 1, []float64{253}}, {"GC-39", 0.2, []float64{260}}}}
	voltWattAustraliaMoreRow = Group{Unit: "pu", Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{
		{"GC-40", 0.885714, []float64{254}}, {"GC-40", 0.771429, []float64{255}}, {"GC-40", 0.6, []float64{256.5}}, {"GC-40", 0.428571, []float64{258}},
	}}

	// Cut of power, as a share of the reference power.
	lfsmRows = Group{Unit: "pu", Tolerance: 1e-9, Mark: Recomputed, Rows: []Row{
		{"GC-32", 0.04, []float64{50.3}}, {"GC-32", 0.12, []float64{50.5}}, {"GC-32", 0.32, []float64{51}}, {"GC-32", 0.52, []float64{51.5}}, {"GC-32", 0.72, []float64{52}},
	}}
	lfsmFlatRows = Group{Unit: "pu", Tolerance: 1e-9, Mark: Recomputed, Rows: []Row{
		{"GC-33", 0.02, []float64{50.5}}, {"GC-33", 0.12, []float64{51}}, {"GC-33", 0.22, []float64{51.5}}, {"GC-33", 0.32, []float64{52}},
	}}
	lfsmTestRows = Group{Unit: "MW", Tolerance: 1e-9, Mark: Published, Rows: []Row{{"GC-34", 4, []float64{50.7, 20}}}}
	// The same rules under nominal frequency, by hand.
	lfsmUnderRows      = Group{Unit: "pu", Tolerance: 1e-9, Mark: ByHand, Rows: []Row{{"under", -0.12, []float64{49.5}}, {"under", -0.32, []float64{49}}}}
	droop1547UnderRows = Group{Unit: "pu", Tolerance: 1e-6, Mark: ByHand, Rows: []Row{{"under", -0.154667, []float64{59.5}}, {"under", -0.321333, []float64{59}}}}
	droop1547Rows      = Group{Unit: "pu", Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{
		{"GC-09", 0.021333, []float64{60.1}}, {"GC-09", 0.154667, []float64{60.5}}, {"GC-09", 0.321333, []float64{61}}, {"GC-09", 0.388, []float64{61.2}},
	}}
)
