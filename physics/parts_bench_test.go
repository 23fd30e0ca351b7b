package physics

import (
	"math"
	"testing"
)

// The benchmarks below measure one tick of each part that steps on its own.

func BenchmarkCellStepPower(b *testing.B) {
	c, err := NewCell(CellParams{OCV: Curve{{0, 3.0}, {0.1, 3.3}, {0.5, 3.6}, {0.9, 3.9}, {1, 4.2}}, CapacityAh: 100, R0Ohm: 0.01, R1Ohm: 0.015,
		C1F: 2000, MaxV: 4.15, MinV: 2.8, MaxChargeA: 50, MaxDischA: 50, CutoffA: 5, Series: 16, InitialSOC: 0.5}, 0.1)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		c.StepPower(float64(i&1024 - 512))
	}
}

func BenchmarkFuseStep(b *testing.B) {
	f, err := NewFuse(63, 0.5, 0.1)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		f.Step(100)
		f.Heat = 0 // it never melts, so that the whole way is measured
	}
}

func BenchmarkFrequencyResponseStep(b *testing.B) {
	r := NewFrequencyResponse(FrequencyParams{Droop: LFSMDefault(), DelayS: 1, ResponseS: 2}, 0.1)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r.Step(50+float64(i&7)/10, -5000)
	}
}

func BenchmarkTripRelayStep(b *testing.B) {
	r := NewTripRelay(TripStagesG98G99(230), 0.1)
	b.ReportAllocs()
	for b.Loop() {
		r.Step(228, 232, 50)
	}
}

func BenchmarkRainflowAdd(b *testing.B) {
	r := NewRainflow(64, nil)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r.Add(float64(i * 7919 % 101))
	}
}

func BenchmarkFlickermeterStep(b *testing.B) {
	m, err := NewFlickermeter(230, 2000)
	if err != nil {
		b.Fatal(err)
	}
	var mains [40]float64
	for i := range mains {
		mains[i] = 325 * math.Sin(2*math.Pi*float64(i)/40)
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		m.Step(mains[i%40])
	}
}

func BenchmarkMeasureWiring(b *testing.B) {
	w := RightWiring()
	w[0], w[1] = w[1], w[0]
	b.ReportAllocs()
	for b.Loop() {
		w.Measure([3]float64{1000, 2000, 3000}, [3]float64{100, 200, 300})
	}
}
