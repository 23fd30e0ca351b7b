package panel

import (
	"github.com/prometheus/client_golang/prometheus"

	"kilter/suites/verdict"
)

// collector tells Prometheus what the panel shows.
type collector struct{ panel *Panel }

var (
	timeFact    = prometheus.NewDesc("kilter_simulated_seconds", "Simulated time since the start.", nil, nil)
	powerFact   = prometheus.NewDesc("kilter_power_watts", "Power into a device, or through the inlet: import and charging are positive.", []string{"device", "kind"}, nil)
	chargeFact  = prometheus.NewDesc("kilter_state_of_charge_ratio", "True state of charge.", []string{"device"}, nil)
	voltageFact = prometheus.NewDesc("kilter_voltage_volts", "Phase voltage at the inlet.", []string{"line"}, nil)
	marginFact  = prometheus.NewDesc("kilter_criterion_margin", "Margin of a criterion if the run ended now, in its own unit: positive where it holds.", []string{"criterion", "unit"}, nil)
	failedFact  = prometheus.NewDesc("kilter_criterion_failed", "1 where the criterion has failed.", []string{"criterion"}, nil)
	requestFact = prometheus.NewDesc("kilter_requests_total", "Modbus requests that were dealt with.", nil, nil)
	viewerFact  = prometheus.NewDesc("kilter_panel_viewers", "Pages that look on.", nil, nil)
	lateFact    = prometheus.NewDesc("kilter_step_lateness_seconds", "How late the plant's steps began on the wall clock.", []string{"quantile"}, nil)
)

// Describe says which facts there are.
func (c *collector) Describe(to chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{timeFact, powerFact, chargeFact, voltageFact, marginFact, failedFact, requestFact, viewerFact, lateFact} {
		to <- d
	}
}

// Collect tells the facts.
func (c *collector) Collect(to chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, v float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	p := c.panel
	late := p.bench.Lateness()
	gauge(lateFact, late.P50.Seconds(), "0.5")
	gauge(lateFact, late.P99.Seconds(), "0.99")
	gauge(lateFact, late.Worst.Seconds(), "1")
	gauge(viewerFact, float64(p.hub.count()))
	to <- prometheus.MustNewConstMetric(requestFact, prometheus.CounterValue, float64(p.traffic.count()))
	p.mutex.Lock()
	defer p.mutex.Unlock()
	gauge(timeFact, p.now.AtS)
	for i, x := range p.columns {
		v := p.now.Values[i]
		switch x.Kind {
		case "soc":
			gauge(chargeFact, v/100, x.Device)
		case "voltage":
			gauge(voltageFact, v, x.Name[len("voltage_"):])
		default:
			gauge(powerFact, v, x.Device, x.Kind)
		}
	}
	for _, f := range p.findings {
		failed := 0.0
		if f.Status == verdict.Failed {
			failed = 1
		}
		gauge(failedFact, failed, f.Title())
		if v, known := f.Margin.Value(); known {
			gauge(marginFact, v, f.Title(), f.Unit)
		}
	}
}
