package atlas

// Values of batteries, PV and the sky.

var (
	pulseRows = Group{Unit: "V", Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{
		{"BA-21", 3.557479697, []float64{10}}, {"BA-22", 3.505181916, []float64{30}}, {"BA-23", 3.470300292, []float64{60}},
		{"BA-25", 3.652286144, []float64{90}}, {"BA-26", 3.682447053, []float64{120}}, {"BA-27", 3.697624467, []float64{180}},
	}}
	pulseEdgeRows = Group{Unit: "V", Tolerance: 1e-6, Mark: Recomputed, Rows: []Row{{"BA-20", 3.6, []float64{0}}, {"BA-24", 3.570300292, []float64{60}}}}
	// The circuit simulator prints seven digits.
	pulseSimulatorRows = Group{Unit: "V", Tolerance: 2e-6, Mark: Recomputed, Rows: []Row{
		{"BA-21", 3.557480, []float64{10}}, {"BA-22", 3.505182, []float64{30}}, {"BA-23", 3.470307, []float64{59.99}},
		{"BA-25", 3.652286, []float64{90}}, {"BA-26", 3.682447, []float64{120}}, {"BA-27", 3.697624, []float64{180}},
	}}

	partLoadRows = Group{Tolerance: 1e-9, Mark: Recomputed, Rows: []Row{
		{"PV-37", 0.863661305, []float64{0.05}}, {"PV-37", 0.921627892, []float64{0.1}}, {"PV-37", 0.949400851, []float64{0.2}},
		{"PV-37", 0.957582650, []float64{0.3}}, {"PV-37", 0.962191553, []float64{0.5}}, {"PV-37", 0.962075335, []float64{0.75}}, {"PV-37", 0.96, []float64{1}},
	}}
	partLoadPowerRows = Group{Unit: "W", Tolerance: 1e-4, Mark: Recomputed, Rows: []Row{
		{"PV-36", 214.698948, []float64{250}}, {"PV-36", 2405.061326, []float64{2500}}, {"PV-36", 4802.003113, []float64{5000}},
	}}
	partLoadPublishedRows = Group{Unit: "W", Tolerance: 1e-8, Mark: Published, Rows: []Row{
		{"PV-33", 85.58556604752516, []float64{90}}, {"PV-34", 0, []float64{0}}, {"PV-34", 47.60843624, []float64{50}}, {"PV-34", 95, []float64{100}},
	}}

	sandiaRows = Group{Unit: "W", Tolerance: 1e-5, Mark: Published, Rows: []Row{
		{"PV-39", -0.02, []float64{0, 0}}, {"PV-39", 132.004278, []float64{137.5, 25}}, {"PV-39", 250, []float64{550, 50}},
	}}
	sandiaMoreRows = Group{Unit: "W", Tolerance: 1e-8, Mark: Recomputed, Rows: []Row{
		{"PV-40", 250, []float64{259.5220505, 40.24260317}}, {"PV-40", 95.663309616, []float64{100, 40.24260317}}, {"PV-40", -0.02, []float64{1, 40.24260317}},
	}}

	dcRows = Group{Unit: "W", Tolerance: 1e-9, Mark: Recomputed, Rows: []Row{
		{"PV-32", 3704, []float64{800, 45}}, {"PV-32", 5000, []float64{1000, 25}}, {"PV-32", 1037, []float64{200, 15}}, {"PV-32", 6741, []float64{1400, 35}},
	}}
	dcPublishedRows = Group{Unit: "W", Tolerance: 1e-9, Mark: Published, Rows: []Row{{"PV-30", 88.65, []float64{900, 30}}}}
	lowLightRows    = Group{Unit: "W", Tolerance: 1e-9, Mark: Published, Rows: []Row{{"PV-31", 8.9125, []float64{100, 30}}, {"PV-31", 118.45, []float64{1200, 30}}}}

	haurwitzRows = Group{Unit: "W/m²", Tolerance: 1e-8, Mark: Published, Rows: []Row{
		{"PV-20", 0, []float64{-20}}, {"PV-20", 0, []float64{-0.05}}, {"PV-20", 48.6298687942, []float64{5}}, {"PV-20", 135.741748092, []float64{10}},
		{"PV-20", 487.894132885, []float64{30}}, {"PV-20", 778.766689344, []float64{50}}, {"PV-20", 1035.09203253, []float64{90}},
	}}
	haurwitzMoreRows = Group{Unit: "W/m²", Tolerance: 1e-9, Mark: Recomputed, Rows: []Row{{"PV-21", 888.2713352912, []float64{60}}}}
	// Elevation, extraterrestrial irradiance, and which part: 0 global, 1 beam, 2 diffuse.
	ineichenRows = Group{Unit: "W/m²", Tolerance: 1e-6, Mark: Published, Rows: []Row{
		{"PV-22", 1038.159219, []float64{80, 1364, 0}}, {"PV-22", 942.2081860378, []float64{80, 1364, 1}}, {"PV-22", 110.2652929361, []float64{80, 1364, 2}},
		{"PV-23", 1042.72590228, []float64{80, 1370, 0}}, {"PV-23", 946.35279683, []float64{80, 1370, 1}}, {"PV-23", 110.75033088, []float64{80, 1370, 2}},
	}}
	solisRows = Group{Unit: "W/m²", Tolerance: 1e-6, Mark: Published, Rows: []Row{
		{"PV-24", 1064.653145, []float64{80, 1364, 0}}, {"PV-24", 959.335463, []float64{80, 1364, 1}}, {"PV-24", 129.125602, []float64{80, 1364, 2}},
	}}

	// Range over count, and the cycles of the standard's example: range, mean, count.
	rainflowTotals = Group{Tolerance: 0, Mark: Published, Rows: []Row{
		{"RF-02", 0.5, []float64{3}}, {"RF-02", 1.5, []float64{4}}, {"RF-02", 0.5, []float64{6}}, {"RF-02", 1, []float64{8}}, {"RF-02", 0.5, []float64{9}},
	}}
	rainflowCycles = [][3]float64{{3, -0.5, 0.5}, {4, -1, 0.5}, {4, 1, 1}, {8, 1, 0.5}, {9, 0.5, 0.5}, {8, 0, 0.5}, {6, 1, 0.5}}
	rainflowSeries = []float64{-2, 1, -3, 5, -1, 3, -4, 4, -2}
)
