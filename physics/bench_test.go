package physics

import (
	"fmt"
	"testing"
)

// BenchmarkStep measures one tick of the bakery with two inverters: with the default models, and with every finer
// model on.
func BenchmarkStep(b *testing.B) {
	for _, c := range []struct {
		name string
		site Site
	}{{"bakery", bakery()}, {"finest", finest()}} {
		b.Run(c.name, func(b *testing.B) { benchmarkStep(b, c.site) })
	}
}

// BenchmarkStepMany measures one tick of sites with many default inverters, each with its feeder, its meter and its load.
func BenchmarkStepMany(b *testing.B) {
	for _, n := range []int{2, 10, 100, 1000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) { benchmarkStep(b, street(n)) })
	}
}

// street is n houses on one supply.
func street(n int) Site {
	model := bakery()
	s := model
	s.Meters, s.Inverters, s.Loads = nil, nil, nil
	s.Feeders = s.Feeders[:1]
	s.Arrays, s.Chargers = nil, nil
	for i := range n {
		s.Feeders = append(s.Feeders, Feeder{Name: fmt.Sprint("house ", i), Parent: 0})
		m, v := model.Meters[i%2], model.Inverters[i%2]
		m.Name, m.Feeder = fmt.Sprint("meter ", i), i+1
		v.Name, v.Feeder, v.Loop.Meter = fmt.Sprint("inverter ", i), i+1, i
		s.Meters, s.Inverters = append(s.Meters, m), append(s.Inverters, v)
		s.Loads = append(s.Loads, LoadParams{Name: fmt.Sprint("load ", i), Feeder: i + 1, PowerW: 300 + float64(i%7)*100, On: true})
	}
	return s
}

func benchmarkStep(b *testing.B, s Site) {
	p, err := New(s)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		p.Step()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(s.Inverters)), "ns/inverter")
}
