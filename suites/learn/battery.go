package learn

import (
	"math"

	"kilter/suites/fieldlog"
)

// Battery is what the state of charge tells.
type Battery struct {
	CapacityWh Estimate
	Efficiency Estimate // of a whole way in and out [1]
	SOC        float64  // when the window begins [1]
}

// defaults of a battery of which the log tells nothing.
const (
	defaultWh         = 10_000
	defaultEfficiency = 0.88
)

// battery explains a state of charge by the energies in and out, over the whole log:
//
//	SOC = s0 + a In - b Out,  a = e / C,  b = 1 / (e C)
//
// with e the efficiency of one way, taken as equal both ways, and C the capacity: C = 1/sqrt(a b), e = sqrt(a / b). The steps in which
// the state of charge is told do not scatter from sample to sample, so each stretch at one value counts once.
func battery(u *fieldlog.UnitLog, stepS float64, at int) Battery {
	b := Battery{SOC: 0.5,
		CapacityWh: Estimate{Value: defaultWh, Low: 0, High: math.Inf(1), Why: "no state of charge was logged"},
		Efficiency: Estimate{Value: defaultEfficiency, Low: 0, High: 1, Why: "no state of charge was logged"},
	}
	if u.SOC == nil {
		return b
	}
	var rows [][4]float64 // soc, 1, in, out
	in, out, last := 0.0, 0.0, math.NaN()
	for i, s := range u.SOC.Values {
		if w := u.Power.Values[i]; w > 0 {
			in += w * stepS / 3600
		} else if w < 0 {
			out -= w * stepS / 3600
		}
		if i == at && !math.IsNaN(s) {
			b.SOC = min(max(s, 0), 1)
		}
		if !math.IsNaN(s) && s != last {
			// It has just changed: the true value is known best now.
			if !math.IsNaN(last) {
				rows = append(rows, [4]float64{(s + last) / 2, 1, in, out})
			}
			last = s
		}
	}
	b.CapacityWh.Why, b.Efficiency.Why = "too little energy went in or out", "too little energy went in or out"
	if len(rows) < 8 {
		return b
	}
	c, cov, ok := leastSquares(rows)
	if !ok || c[1] <= 0 || c[2] >= 0 {
		return b
	}
	a, d := c[1], -c[2]
	va, vd, cad := cov[1][1], cov[2][2], -cov[1][2]
	// ln C = -(ln a + ln d)/2, ln e2 = ln a - ln d, with e2 of the whole way.
	ra, rd, rad := va/(a*a), vd/(d*d), cad/(a*d)
	sc := math.Sqrt(max((ra+rd+2*rad)/4, 0)) * socWidening
	se := math.Sqrt(max(ra+rd-2*rad, 0)) * socWidening
	capacity, way := 1/math.Sqrt(a*d), a/d
	if sc < 0.15 {
		b.CapacityWh = Estimate{Value: capacity, Low: capacity * math.Exp(-quantile*sc), High: capacity * math.Exp(quantile*sc), Identifiable: quantile*sc < 0.1}
		if !b.CapacityWh.Identifiable {
			b.CapacityWh.Why = "too little energy went in or out"
		}
	}
	if se < 0.03 && way < 1.05 {
		b.Efficiency = Estimate{Value: min(way, 1), Low: way * math.Exp(-quantile*se), High: min(way*math.Exp(quantile*se), 1), Identifiable: true}
	}
	return b
}

// socWidening makes up for what the state of charge keeps from one step to the next; common practice, no source.
const socWidening = 2

// leastSquares explains the first of each row by the other three, and gives the covariance.
func leastSquares(rows [][4]float64) (c [3]float64, cov [3][3]float64, ok bool) {
	var a [3][4]float64
	// Scaled, so that watt-hours do not drown the constant.
	scale := [3]float64{1, 1e-9, 1e-9}
	for _, r := range rows {
		scale[1], scale[2] = max(scale[1], r[2]), max(scale[2], r[3])
	}
	for _, r := range rows {
		for i := range 3 {
			for j := range 3 {
				a[i][j] += r[i+1] / scale[i] * r[j+1] / scale[j]
			}
			a[i][3] += r[i+1] / scale[i] * r[0]
		}
	}
	inv, ok := invert3([3][3]float64{{a[0][0], a[0][1], a[0][2]}, {a[1][0], a[1][1], a[1][2]}, {a[2][0], a[2][1], a[2][2]}})
	if !ok {
		return c, cov, false
	}
	for i := range 3 {
		for j := range 3 {
			c[i] += inv[i][j] * a[j][3]
		}
	}
	sum := 0.0
	for _, r := range rows {
		e := r[0]
		for i := range 3 {
			e -= c[i] * r[i+1] / scale[i]
		}
		sum += e * e
	}
	s2 := sum / float64(max(len(rows)-3, 1))
	for i := range 3 {
		for j := range 3 {
			cov[i][j] = s2 * inv[i][j] / (scale[i] * scale[j])
		}
	}
	for i := range 3 {
		c[i] /= scale[i]
	}
	return c, cov, true
}

func invert3(m [3][3]float64) (out [3][3]float64, ok bool) {
	cross := func(a, b, c, d int) float64 { return m[a][b]*m[c][d] - m[a][d]*m[c][b] }
	det := m[0][0]*cross(1, 1, 2, 2) - m[0][1]*cross(1, 0, 2, 2) + m[0][2]*cross(1, 0, 2, 1)
	if math.Abs(det) < 1e-12*math.Abs(m[0][0]*m[1][1]*m[2][2]) || det == 0 {
		return out, false
	}
	for i := range 3 {
		for j := range 3 {
			a, b := (j+1)%3, (j+2)%3
			c, d := (i+1)%3, (i+2)%3
			out[i][j] = (m[a][c]*m[b][d] - m[a][d]*m[b][c]) / det
		}
	}
	return out, true
}
