package physics

import "math"

// stream is a source of random numbers that belongs to one component. Its
// start depends on the site's seed and the component's name only, so that adding a
// component never shifts another's numbers.
//
// The generator is SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, Fast splittable
// pseudorandom number generators, OOPSLA 2014). Each stream has a state and an odd
// increment of its own, both hashed: streams that share an increment are
// shifted copies of one sequence.
type stream struct {
	state, gamma uint64
	spare        float64
	hasSpare     bool
}

func newStream(seed uint64, name string) stream {
	h := uint64(0xcbf29ce484222325) // FNV-1a, 64 bit
	for _, b := range []byte(name) {
		h = (h ^ uint64(b)) * 0x100000001b3
	}
	return stream{
		state: mix64(seed ^ mix64(h)),
		gamma: mix64(h+mix64(seed+0x632be59bd9b4e019)) | 1,
	}
}

// mix64 is SplitMix64's output function.
func mix64(z uint64) uint64 {
	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9
	z = (z ^ (z >> 27)) * 0x94d049bb133111eb
	return z ^ (z >> 31)
}

func (s *stream) next() uint64 {
	s.state += s.gamma
	return mix64(s.state)
}

// uniform returns a number in [0, 1).
func (s *stream) uniform() float64 {
	return float64(float64(s.next()>>11) * (1.0 / (1 << 53)))
}

// normal returns a number of the standard normal distribution, by the polar
// method (G. Marsaglia, T. A. Bray, SIAM Review 6, 1964).
func (s *stream) normal() float64 {
	if s.hasSpare {
		s.hasSpare = false
		return s.spare
	}
	for {
		u := float64(2*s.uniform()) - 1
		v := float64(2*s.uniform()) - 1
		q := float64(u*u) + float64(v*v)
		if q >= 1 || q == 0 {
			continue
		}
		f := math.Sqrt(-2 * log(q) / q)
		s.spare, s.hasSpare = v*f, true
		return u * f
	}
}

// exponential returns a number of the exponential distribution of the given mean.
func (s *stream) exponential(mean float64) float64 {
	return -mean * log(1-s.uniform())
}
