package physics

import "math"

// The functions below replace math.Exp, Log, Sin, Cos and Atan2, whose bits differ
// between processors. Each is a range reduction and a Taylor series with every
// product fenced; each agrees with package math to a few units in the last
// place over the ranges that the plant uses (tested).

const (
	ln2Hi     = 6.93147180369123816490e-01 // ln 2 in two parts, so that k*ln2Hi is exact for |k| < 2^20
	ln2Lo     = 1.90821492927058770002e-10
	ln2By32Hi = 0.02166084938653512 // the same of ln 2 / 32, exact for |k| < 2^21
	ln2By32Lo = 5.9631716539705866e-12
	// Pi/2 in two parts: the first has 33 significant bits.
	halfPiHi = 1.57079632673412561417
	halfPiLo = 6.07710050650619224932e-11
)

// exp returns e^x. Beyond the range of float64 it returns +Inf or 0.
func exp(x float64) float64 {
	switch {
	case x != x:
		return x
	case x > 709.7:
		return math.Inf(1)
	case x < -745:
		return 0
	}
	// x = (k/32) ln 2 + r, so that e^x = 2^(k/32) e^r with |r| <= 0.0109: a short series.
	k := math.Floor(float64(x*(32/math.Ln2)) + 0.5)
	r := (x - float64(k*ln2By32Hi)) - float64(k*ln2By32Lo)
	// (e^r - 1)/r in pairs, which the processor works out side by side; 0.0109^7/8! < 1e-18.
	r2 := float64(r * r)
	high := (1.0/120 + float64(r*(1.0/720))) + float64(r2*(1.0/5040))
	high = (1.0/6 + float64(r*(1.0/24))) + float64(r2*high)
	sum := (1 + float64(r*0.5)) + float64(r2*high)
	n := int(k)
	root := rootsOfTwo[n&31]
	e := root + float64(root*float64(r*sum))
	if n >>= 5; n > -1000 && n < 1000 {
		// Times a power of two, exactly, by its bits: Ldexp is slower and wanted at the ends of the range only.
		return e * math.Float64frombits(uint64(n+1023)<<52)
	}
	return math.Ldexp(e, n)
}

// rootsOfTwo holds 2^(j/32).
var rootsOfTwo = [32]float64{
	1,
	1.0218971486541166782344,
	1.0442737824274138403219,
	1.0671404006768236181695,
	1.0905077326652576592070,
	1.1143867425958925363088,
	1.1387886347566916537038,
	1.1637248587775775138135,
	1.1892071150027210667174,
	1.2152473599804688781165,
	1.2418578120734840485936,
	1.2690509571917332225544,
	1.2968395546510096659337,
	1.3252366431597412946295,
	1.3542555469368927282980,
	1.3839098819638319548726,
	1.4142135623730950488016,
	1.4451808069770466200370,
	1.4768261459394993113869,
	1.5091644275934227397660,
	1.5422108254079408236122,
	1.5759808451078864864552,
	1.6104903319492543081795,
	1.6457554781539648445187,
	1.6817928305074290860622,
	1.7186192981224779156293,
	1.7562521603732994831121,
	1.7947090750031071864277,
	1.8340080864093424634870,
	1.8741676341102999013299,
	1.9152065613971472938726,
	1.9571441241754002690183,
}

// log returns the natural logarithm of x > 0; NaN below 0, -Inf at 0.
func log(x float64) float64 {
	switch {
	case x != x || x < 0:
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	case math.IsInf(x, 1):
		return x
	}
	m, e := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m *= 2
		e--
	}
	s := (m - 1) / (m + 1) // |s| <= 0.1716
	s2 := s * s
	sum := 0.0
	for _, c := range oddInverses { // s2^12/25 < 2e-20
		sum = c + float64(s2*sum)
	}
	k := float64(e)
	return float64(k*ln2Hi) + (float64(k*ln2Lo) + float64(2*s*sum))
}

// oddInverses holds 1/23 down to 1/1, by odd numbers.
var oddInverses = [12]float64{1.0 / 23, 1.0 / 21, 1.0 / 19, 1.0 / 17, 1.0 / 15, 1.0 / 13, 1.0 / 11, 1.0 / 9, 1.0 / 7, 1.0 / 5, 1.0 / 3, 1}

// pow returns x^y for x > 0, and 0 for x = 0 and y > 0.
func pow(x, y float64) float64 {
	if x == 0 {
		return 0
	}
	return exp(y * log(x))
}

// sincos returns the sine and cosine of x [rad], |x| < 1e5.
func sincos(x float64) (sin, cos float64) {
	k := math.Floor(float64(x*(2/math.Pi)) + 0.5)
	r := (x - float64(k*halfPiHi)) - float64(k*halfPiLo) // |r| <= pi/4
	r2 := r * r
	s, c := 1.0, 1.0
	for n := 18.0; n >= 2; n -= 2 { // (pi/4)^19/19! < 1e-19
		s = 1 - float64(r2*s)/float64(n*(n+1))
		c = 1 - float64(r2*c)/float64(n*(n-1))
	}
	s *= r
	switch int64(k) & 3 {
	case 0:
		return s, c
	case 1:
		return c, -s
	case 2:
		return -s, -c
	}
	return -c, s
}

func sinDeg(deg float64) float64 { s, _ := sincos(deg * (math.Pi / 180)); return s }
func cosDeg(deg float64) float64 { _, c := sincos(deg * (math.Pi / 180)); return c }

// atan returns the arc tangent of x [rad].
func atan(x float64) float64 {
	// Halve the angle twice: atan x = 2 atan(x / (1 + sqrt(1 + x^2))).
	if math.Abs(x) > 1e150 { // the square below would overflow
		return math.Copysign(math.Pi/2, x)
	}
	for range 2 {
		x /= 1 + math.Sqrt(1+float64(x*x))
	}
	x2 := x * x // |x| < tan(pi/8), x2 < 0.1716
	sum := 0.0
	for n := 43; n >= 1; n -= 2 { // 0.1716^22/45 < 4e-19
		sum = 1/float64(n) - float64(x2*sum)
	}
	return 4 * x * sum
}

// atan2Deg returns the angle of the point (x, y) from the positive x axis [deg],
// -180 to 180.
func atan2Deg(y, x float64) float64 {
	const deg = 180 / math.Pi
	switch {
	case x == 0 && y == 0:
		return 0
	case math.Abs(x) >= math.Abs(y):
		a := float64(atan(y/x) * deg)
		if x < 0 {
			return a + math.Copysign(180, y)
		}
		return a
	}
	return math.Copysign(90, y) - float64(atan(x/y)*deg)
}

// asinDeg returns the arc sine of x in [-1, 1] [deg].
func asinDeg(x float64) float64 {
	return atan2Deg(x, math.Sqrt(max(0, float64((1-x)*(1+x)))))
}
