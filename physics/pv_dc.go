package physics

// CellTemperature returns the temperature of the cells [degC] by the nominal operating cell
// temperature noctC [degC], measured at 800 W/m2 and 20 degC of air:
//
//	Tc = ambient + G/800 (noct - 20)
//
// with G the irradiance on the plane [W/m2] and ambientC the air's temperature [degC].
// Source: IEC 61215 (from memory). Wind, mounting and thermal inertia are not modelled.
func CellTemperature(irradiance, ambientC, noctC float64) float64 {
	return ambientC + float64(irradiance*(noctC-20))/800
}

// PVWattsDC returns the DC power of an array [W]:
//
//	P = G/1000 x peak x (1 + coeff (Tc - 25))
//
// with irradiance G on the plane [W/m2], cellC the cells' temperature Tc [degC], peakW the power
// at 1000 W/m2 and 25 degC [W], and coeffPerK the change of power per kelvin [1/K],
// usually negative. Never negative.
//
// Source: A. P. Dobos, PVWatts Version 5 Manual, NREL/TP-6A20-62641, 2014, section 9.
func PVWattsDC(irradiance, cellC, peakW, coeffPerK float64) float64 {
	return max(0, irradiance/1000*peakW*(1+float64(coeffPerK*(cellC-25))))
}

// LowLightLoss returns what an array falls short of PVWattsDC at low irradiance, as a share
// of its peak power [1]; k is the shortfall at 200 W/m2 as a share of the peak [1], typically
// 0 to 0.015. Above 1000 W/m2 the straight line would turn into a gain: it is cut off at
// 0 if capped.
//
//	up to 200 W/m2   k (1 - (1 - G/200)^4)
//	above            k (1000 - G)/800
//
// Source: B. Marion, Comparison of predictive models for photovoltaic module performance, 33rd
// IEEE Photovoltaic Specialists Conference, 2008, with check value PV-31.
func LowLightLoss(irradiance, k float64, capped bool) float64 {
	if irradiance <= 200 {
		x := 1 - max(irradiance, 0)/200
		return k * (1 - float64(float64(x*x)*float64(x*x)))
	}
	if capped && irradiance > 1000 {
		return 0
	}
	return k * (1000 - irradiance) / 800
}

// PVWattsLowLightDC is PVWattsDC less LowLightLoss, never negative [W].
func PVWattsLowLightDC(irradiance, cellC, peakW, coeffPerK, k float64, capped bool) float64 {
	return max(0, PVWattsDC(irradiance, cellC, peakW, coeffPerK)-float64(peakW*LowLightLoss(irradiance, k, capped)))
}

// PVWattsLosses are the shares that a system loses before its inverter [1].
type PVWattsLosses struct {
	Soiling, Shading, Snow, Mismatch, Wiring, Connections       float64
	LightInducedDegradation, NameplateRating, Age, Availability float64
}

// DefaultPVWattsLosses are those of the PVWatts manual, table 6.
var DefaultPVWattsLosses = PVWattsLosses{
	Soiling: 0.02, Shading: 0.03, Snow: 0, Mismatch: 0.02, Wiring: 0.02, Connections: 0.005,
	LightInducedDegradation: 0.015, NameplateRating: 0.01, Age: 0, Availability: 0.03,
}

// Total returns the loss of all together [1]: each takes its share of what the others left,
// so that it is less than their sum.
//
// Source: NREL/TP-6A20-62641, section 8.
func (l PVWattsLosses) Total() float64 {
	left := 1.0
	for _, x := range [...]float64{
		l.Soiling, l.Shading, l.Snow, l.Mismatch, l.Wiring, l.Connections,
		l.LightInducedDegradation, l.NameplateRating, l.Age, l.Availability,
	} {
		left = float64(left * (1 - x))
	}
	return 1 - left
}
