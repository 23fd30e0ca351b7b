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

// normal returns a number of the standard normal distribution, by the ziggurat method: nearly always one multiplication.
//
// Source: G. Marsaglia, W. W. Tsang, The ziggurat method for generating random variables, J. Statistical
// Software 5(8), 2000, with the layers and the floating-point form of J. A. Doornik, An improved ziggurat method to
// generate normal random samples, 2005.
func (s *stream) normal() float64 {
	for {
		bits := s.next()
		u := float64(float64(bits>>11)*(2.0/(1<<53))) - 1
		i := bits & (layers - 1)
		if u < ziggurat.ratio[i] && u > -ziggurat.ratio[i] {
			return u * ziggurat.x[i]
		}
		if i == 0 {
			return s.tail(u < 0)
		}
		x := u * ziggurat.x[i]
		f0 := exp(-0.5 * (float64(ziggurat.x[i]*ziggurat.x[i]) - float64(x*x)))
		f1 := exp(-0.5 * (float64(ziggurat.x[i+1]*ziggurat.x[i+1]) - float64(x*x)))
		if f1+float64(s.uniform()*(f0-f1)) < 1 {
			return x
		}
	}
}

// tail returns a number beyond the ziggurat's base (G. Marsaglia, Generating a variable from the tail of the normal
// distribution, Technometrics 6, 1964).
func (s *stream) tail(negative bool) float64 {
	for {
		x := log(1-s.uniform()) / zigguratBase
		y := log(1 - s.uniform())
		if -2*y >= float64(x*x) {
			if negative {
				return x - zigguratBase
			}
			return zigguratBase - x
		}
	}
}

const (
	layers       = 128
	zigguratBase = 3.442619855899
	zigguratArea = 9.91256303526217e-3
)

// ziggurat holds the right edges of the layers and the ratio of each to the one below.
var ziggurat = func() (z struct {
	x     [layers + 1]float64
	ratio [layers]float64
}) {
	f := exp(-0.5 * zigguratBase * zigguratBase)
	z.x[0], z.x[1] = zigguratArea/f, zigguratBase
	for i := 2; i < layers; i++ {
		z.x[i] = math.Sqrt(-2 * log(zigguratArea/z.x[i-1]+f))
		f = exp(-0.5 * float64(z.x[i]*z.x[i]))
	}
	for i := range z.ratio {
		z.ratio[i] = z.x[i+1] / z.x[i]
	}
	return z
}()

// exponential returns a number of the exponential distribution of the given mean.
func (s *stream) exponential(mean float64) float64 {
	return -mean * log(1-s.uniform())
}
