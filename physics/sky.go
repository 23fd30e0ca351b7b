package physics

// sky is what stands between the sun and the arrays. Its factor multiplies the
// irradiance of all arrays alike: the site is small against a cloud.
type sky struct {
	factor  float64 // at the end of the tick [1]
	clouds  [maxClouds]cloud
	count   int
	chance  stream
	process cloudProcess
}

// maxClouds is how many clouds can be over the site at once; more are not
// darker than the darkest, so that a further one replaces the oldest.
const maxClouds = 8

// cloud is one passing cloud.
type cloud struct {
	fromMS, toMS int64 // from the first edge's start to the last edge's end
	edgeMS       float64
	depth        float64
	enhancement  float64
}

// transmission returns what the cloud leaves of the irradiance [1].
//
// Each edge is linear in time. Enhancement is a linear rise over one edge time just before
// the cloud and its mirror image just after it: light that the cloud's bright side
// reflects. Sizes seen in the field are in check values PV-50 to PV-53.
func (c *cloud) transmission(ms float64) float64 {
	t, end := ms-float64(c.fromMS), ms-float64(c.toMS)
	if end > 0 {
		t = -end // the far side mirrors the near side
	} else if -end < t {
		t = -end // the nearer edge counts
	}
	e := max(c.edgeMS, 1)
	if t < 0 {
		near := 1 + t/e
		if near <= 0 {
			return 1
		}
		return 1 + float64(c.enhancement*near)
	}
	if t >= e {
		return 1 - c.depth
	}
	// From 1 + enhancement down to 1 - depth.
	return 1 + c.enhancement - float64((c.depth+c.enhancement)*t)/e
}

func (s *sky) pass(atMS int64, p PassCloud) {
	c := cloud{
		fromMS: atMS, toMS: atMS + int64(p.LastsS*1000), edgeMS: p.EdgeS * 1000,
		depth: p.Depth, enhancement: p.Enhancement,
	}
	if p.Enhancement > 0 {
		// The reflection comes first, so that nothing jumps at the instant of the action.
		c.fromMS += int64(c.edgeMS)
		c.toMS += int64(c.edgeMS)
	}
	if s.count == maxClouds {
		copy(s.clouds[:], s.clouds[1:])
		s.count--
	}
	s.clouds[s.count] = c
	s.count++
}

// begin starts or ends the process of broken clouds; clouds that are on their way pass.
func (s *sky) begin(atMS int64, b BrokenClouds) {
	s.process.BrokenClouds = b
	if b.On {
		s.process.nextMS = atMS + s.process.gap(&s.chance)
	}
}

// step sets the factor for the instant ms.
func (s *sky) step(ms int64) {
	for s.process.On && ms >= s.process.nextMS {
		at, cloud := s.process.next(&s.chance)
		s.pass(at, cloud)
	}
	if s.count == 0 {
		s.factor = 1
		return
	}
	// The darkest cloud and the brightest edge together: each moves without jumps, and so does
	// their product, however clouds overlap.
	dark, bright := 1.0, 1.0
	kept := 0
	for i := 0; i < s.count; i++ {
		c := s.clouds[i]
		t := c.transmission(float64(ms))
		dark, bright = min(dark, t), max(bright, t)
		if float64(ms-c.toMS) <= c.edgeMS {
			s.clouds[kept] = c
			kept++
		}
	}
	s.count = kept
	s.factor = float64(dark * bright)
}

// busy says whether a step can change anything.
func (s *sky) busy() bool { return s.count > 0 || s.process.On || s.factor != 1 }
