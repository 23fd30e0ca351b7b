package physics

import "testing"

// BenchmarkStep measures one tick of the bakery with two inverters.
func BenchmarkStep(b *testing.B) {
	p, err := New(bakery())
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		p.Step()
	}
}
