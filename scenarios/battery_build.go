package scenarios

import "kilter/physics"

func (b *siteBuilder) battery(f *batteryFile, v *physics.InverterParams) physics.BatteryParams {
	p := physics.BatteryParams{
		CapacityWh: f.Capacity.v, ChargeEfficiency: f.ChargeEfficiency.v, DischargeEfficiency: f.DischargeEfficiency.v,
		MaxChargeW: f.MaxCharge.or(v.RatingW), MaxDischargeW: f.MaxDischarge.or(v.RatingW / v.Efficiency),
		InitialSOC: f.SOC.v, ReserveSOC: f.Reserve.v, TaperAboveSOC: f.TaperAbove.v, TaperBelowSOC: f.TaperBelow.v,
		StandbyW: f.Standby.v, Cell: b.cell(f.Cell), Thermal: b.thermal(f.Thermal),
	}
	switch c := p.Cell; {
	case f.Capacity.set:
	case c == nil:
		b.add(f.At.under("capacity"), "no capacity", dimensions["energy"].wanted(), "")
	case len(c.OCV) > 0:
		p.CapacityWh = c.CapacityAh * c.OCV.Integral(0, 1) * float64(c.Series*c.Parallel)
	}
	if r := f.Reported; r != nil {
		p.Report = &physics.ReportParams{
			Resolution: r.Resolution.v, LagS: r.Lag.v, GainError: r.GainError.v, InitialError: r.Error.v,
			RecalibrateHigh: r.High.v, RecalibrateLow: r.Low.v,
		}
		if r.High.v > 0 && r.Low.v >= r.High.v {
			b.add(r.Low.at, shownAs("share", r.Low.v), "less than recalibrates_at_high", "")
		}
	}
	return p
}

func (b *siteBuilder) cell(f *cellFile) *physics.CellParams {
	if f == nil {
		return nil
	}
	p := &physics.CellParams{
		CapacityAh: f.Capacity.v, R0Ohm: f.R0.v, R1Ohm: f.R1.v, C1F: f.C1.v, MaxV: f.Max.v, MinV: f.Min.v,
		MaxChargeA: f.MaxCharge.v, MaxDischA: f.MaxDischarge.v, CutoffA: f.Cutoff.v,
		Series: int(f.Series.v), Parallel: int(f.Parallel.v),
	}
	points := make([]corner, len(f.OpenCircuit))
	for i, q := range f.OpenCircuit {
		points[i] = corner{q.SOC, q.SOC.v, q.Voltage.v, "share"}
		if i > 0 && q.SOC.v == f.OpenCircuit[i-1].SOC.v {
			b.add(q.SOC.at, shownAs("share", q.SOC.v)+" again", "a state of charge above that of the point before", "")
		}
		if i > 0 && q.Voltage.v < f.OpenCircuit[i-1].Voltage.v {
			b.add(q.Voltage.at, shownAs("voltage", q.Voltage.v), "at least the voltage of the point before", "it rises with the state of charge")
		}
	}
	if f.OpenCircuit != nil {
		p.OCV = b.curve(f.At.under("open_circuit"), points)
	}
	if f.Min.v >= f.Max.v {
		b.add(f.Min.at, shownAs("voltage", f.Min.v), "less than max_voltage", "")
	}
	if f.R1.v > 0 && !f.C1.set {
		b.add(f.R1.at, "r1 without c1", "both, or neither", "")
	}
	return p
}

func (b *siteBuilder) thermal(f *thermalFile) *physics.ThermalParams {
	if f == nil {
		return nil
	}
	return &physics.ThermalParams{
		CapacityJpK: f.Heat.v, ResistanceKpW: f.Resistance.v, AmbientC: f.Ambient.v, InitialC: f.Initial.or(f.Ambient.v),
		Derating: physics.Derating{
			Charge:    b.derating(f.At.under("charge"), f.Charge),
			Discharge: b.derating(f.At.under("discharge"), f.Discharge),
		},
	}
}

func (b *siteBuilder) derating(at spot, list list[*deratingPointFile]) physics.Curve {
	if list == nil {
		return nil
	}
	points := make([]corner, len(list))
	for i, q := range list {
		points[i] = corner{q.Temp, q.Temp.v, q.Share.v, "temperature"}
	}
	return b.curve(at, points)
}

// corner is one point of a curve on its way from the file.
type corner struct {
	said      quantity // where it stands on the way from left to right
	x, y      float64
	dimension string
}

// curve makes points that go from left to right into a curve.
func (b *siteBuilder) curve(at spot, points []corner) physics.Curve {
	if len(points) == 0 {
		b.add(at, "a curve without points", "at least one point", "")
	}
	var c physics.Curve
	for i, p := range points {
		if i > 0 && p.x < points[i-1].x {
			b.add(p.said.at, shownAs(p.dimension, p.said.v), "at least "+shownAs(p.dimension, points[i-1].said.v)+", where the point before stands", "points go from left to right")
		}
		c = append(c, physics.Point{X: p.x, Y: p.y})
	}
	return c
}
