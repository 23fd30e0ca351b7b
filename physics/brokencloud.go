package physics

// cloudProcess sends cloud after cloud. It draws from the stream "sky" alone, five numbers a
// cloud whatever its parameters, so that another depth or edge time does not shift what
// is drawn for later clouds.
//
// Gaps and durations are exponential, depths and enhancements uniform, and edge times uniform in
// their logarithm: sharp edges are as common as each doubling of blunt ones. A cloud lasts at
// least as long as its two edges.
type cloudProcess struct {
	BrokenClouds
	nextMS int64 // when the next cloud comes
}

func (p *cloudProcess) gap(chance *stream) int64 { return int64(chance.exponential(p.MeanGapS * 1000)) }

// next returns the next cloud and when it comes, and draws the gap behind it.
func (p *cloudProcess) next(chance *stream) (atMS int64, c PassCloud) {
	lasts := chance.exponential(p.MeanLastS)
	depth := p.MinDepth + float64((p.MaxDepth-p.MinDepth)*chance.uniform())
	blunt, bright := chance.uniform(), chance.uniform()
	edge := p.EdgeS
	if p.MaxEdgeS > edge {
		edge = max(edge, 0.1) // a logarithm needs a beginning
		edge = float64(edge * exp(blunt*log(p.MaxEdgeS/edge)))
	}
	c = PassCloud{
		Depth: depth, EdgeS: edge, LastsS: max(lasts, 2*edge),
		Enhancement: float64(p.MaxEnhancement * bright),
	}
	atMS = p.nextMS
	p.nextMS += max(1, int64(c.LastsS*1000)+p.gap(chance))
	return atMS, c
}

// FieldClouds returns broken clouds whose ramps over one roof are like those measured in the field
// (tested over many seeds): up to 60 % of the clear irradiance in the fastest second, where
// reflection adds over 40 % to the ramp (M. Lave, J. Kleissl, E. Arias-Castro, Solar Energy 86,
// 2012); up to one and a half times the clear sky beside a cloud, for seconds to minutes
// (G. H. Yordanov et al., IEEE J. Photovoltaics 3, 2013; M. Jarvela et al., Solar Energy,
// 2020); and about 0.4 of the roof's capacity as the largest change between two minutes of
// a day (R. Perez et al., Prog. Photovolt., 2013).
func FieldClouds() BrokenClouds {
	return BrokenClouds{
		On: true, MeanGapS: 300, MeanLastS: 60, MinDepth: 0.1, MaxDepth: 0.7,
		EdgeS: 2, MaxEdgeS: 240, MaxEnhancement: 0.45,
	}
}
