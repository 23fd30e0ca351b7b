package physics

// DiffuseFraction returns the diffuse share of the global horizontal irradiance [1], by
// the clearness index kt = GHI / (extraterrestrial horizontal irradiance) [1].
//
// Source: D. G. Erbs, S. A. Klein, J. A. Duffie, Estimation of the diffuse radiation fraction,
// Solar Energy 28, 1982 (coefficients from memory).
func DiffuseFraction(kt float64) float64 {
	switch {
	case kt <= 0.22:
		return 1 - float64(0.09*max(kt, 0))
	case kt > 0.80:
		return 0.165
	}
	return polynomial(kt, 0.9511, -0.1604, 4.388, -16.638, 12.336)
}

// SplitErbs returns beam and diffuse parts of a global horizontal irradiance ghi [W/m2], by
// the sun's elevation [deg] and the extraterrestrial irradiance extra [W/m2]; see
// DiffuseFraction.
//
// Under a low sun the beam's share is not known from a horizontal sensor: up to 5 deg all counts
// as diffuse, and from there to 10 deg the beam comes in along a straight line, so that a plane
// that faces the rising sun sees no jump (common practice, no source). Nor does the
// beam exceed what is outside the atmosphere, as the correlation alone would have it
// under bright cloud edges.
func SplitErbs(ghi, elevationDeg, extra float64) Irradiance {
	ghi = max(ghi, 0)
	r := Irradiance{GHI: ghi, DHI: ghi}
	known := min((elevationDeg-5)/5, 1)
	if known <= 0 || ghi == 0 {
		return r
	}
	s := sinDeg(elevationDeg)
	beam := float64(known * float64(ghi*(1-DiffuseFraction(ghi/float64(extra*s))))) // on the horizontal
	beam = min(beam, float64(extra*s))
	r.DNI = min(beam/s, extra)
	r.DHI = ghi - beam
	return r
}

// SkyDiffuseModel says from where on the sky diffuse light comes.
type SkyDiffuseModel uint8

// The models of diffuse light.
const (
	LiuJordan SkyDiffuseModel = iota // equally from everywhere
	HayDavies                        // a part of it from around the sun
)

// Plane is a tilted surface over the ground.
type Plane struct {
	TiltDeg     float64 // from the horizontal [deg]
	FacingDeg   float64 // clockwise from north [deg]
	GroundShare float64 // reflected share of the ground, albedo [1]
}

// Global returns the irradiance on the plane [W/m2]: beam, diffuse light of the sky, and what
// an even ground reflects. elevationDeg and azimuthDeg are the sun's, extra is the
// extraterrestrial irradiance [W/m2]. Never negative.
//
// Shading, a horizon that is not flat and losses at oblique incidence are not modelled.
//
// Sources: B. Y. H. Liu, R. C. Jordan, The long-term average performance of flat-plate
// solar-energy collectors, Solar Energy 7, 1963; J. E. Hay, J. A. Davies, Calculation of
// the solar radiation incident on an inclined surface, First Canadian Solar Radiation
// Data Workshop, 1980.
func (p Plane) Global(r Irradiance, m SkyDiffuseModel, elevationDeg, azimuthDeg, extra float64) float64 {
	beam := 0.0
	if elevationDeg > 0 {
		beam = float64(r.DNI * max(CosIncidence(elevationDeg, azimuthDeg, p.TiltDeg, p.FacingDeg), 0))
	}
	diffuse := SkyDiffuse(r, m, elevationDeg, azimuthDeg, p.TiltDeg, p.FacingDeg, extra)
	ground := float64(r.GHI*p.GroundShare) * (1 - cosDeg(p.TiltDeg)) / 2
	return max(beam, 0) + max(diffuse, 0) + max(ground, 0)
}

// SkyDiffuse returns the sky's diffuse light on a tilted plane [W/m2]; arguments and sources as
// of Plane.Global.
//
//	Liu and Jordan: DHI (1 + cos tilt)/2
//	Hay and Davies: DHI (A cos i / sin e + (1 - A)(1 + cos tilt)/2), A = DNI/extra
//
// with i the angle of incidence and e the elevation; sin e counts as at least 0.01745,
// which is 1 deg.
func SkyDiffuse(r Irradiance, m SkyDiffuseModel, elevationDeg, azimuthDeg, tiltDeg, facingDeg, extra float64) float64 {
	even := (1 + cosDeg(tiltDeg)) / 2
	if m == LiuJordan || extra <= 0 {
		return float64(r.DHI * even)
	}
	around := r.DNI / extra // anisotropy index A
	toSun := max(CosIncidence(elevationDeg, azimuthDeg, tiltDeg, facingDeg), 0) / max(sinDeg(elevationDeg), 0.01745)
	return float64(r.DHI * (float64(around*toSun) + float64((1-around)*even)))
}
