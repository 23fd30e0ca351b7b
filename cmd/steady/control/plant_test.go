package control

import (
	"math"
	"math/rand/v2"
	"time"
)

// plantStep is the step of the test plant [s].
const plantStep = 0.1

// nativeInverter is a battery inverter with its native loop: a sampled
// integrator on its own meter, then dead time, a ramp limit and a first-order lag.
type nativeInverter struct {
	name          string
	ratingW       float64
	capacityWh    float64
	soc           float64
	reserve       float64
	gain          float64 // per sample [1]
	phase         int     // which step of the loop's period samples
	offsetW       float64 // of its own meter
	gainError     float64
	latency, dead int // in steps
	blind         func(step int) float64

	commandW float64
	outputW  float64
	pipe     []float64 // commands on their way through the dead time
	band     Band
	next     Band // a limit acts one step after its write
	refused  bool // it ignores what it is told
}

// plant is a site of native inverters on one inlet.
type plant struct {
	step      int
	inverters []*nativeInverter
	loadW     func(t float64) float64 // all that is not batteries
	meters    []float64               // history of the true grid flow
	noise     *rand.Rand
	noiseW    float64
	gridW     float64
}

const (
	loopSteps = 10 // the native loops' period of 1 s
	lagS      = 0.5
	rampWps   = 2500
)

func (p *plant) now() time.Duration { return time.Duration(p.step) * 100 * time.Millisecond }

// flow is the true grid flow that a meter with a latency tells.
func (p *plant) flow(latency int) float64 {
	if i := len(p.meters) - 1 - latency; i >= 0 {
		return p.meters[i]
	}
	return 0
}

func (p *plant) advance() {
	t := float64(p.step) * plantStep
	for _, v := range p.inverters {
		v.band = v.next
		if p.step%loopSteps == v.phase {
			seen := p.flow(v.latency)
			if v.blind != nil {
				seen -= v.blind(p.step)
			}
			seen = (1+v.gainError)*seen + v.offsetW + p.noiseW*p.noise.NormFloat64()
			v.commandW -= v.gain * seen
		}
		lo, hi := -v.ratingW, v.ratingW
		if !v.refused {
			lo, hi = math.Max(lo, v.band.MinW), math.Min(hi, v.band.MaxW)
		}
		if v.soc >= 1 {
			hi = math.Min(hi, 0)
		}
		if v.soc <= v.reserve {
			lo = math.Max(lo, 0)
		}
		v.commandW = math.Max(math.Min(lo, hi), math.Min(hi, v.commandW))
		v.pipe = append(v.pipe, v.commandW)
		target := 0.0
		if len(v.pipe) > v.dead {
			target, v.pipe = v.pipe[0], v.pipe[1:]
		}
		move := (target - v.outputW) * (1 - math.Exp(-plantStep/lagS))
		v.outputW += math.Max(-rampWps*plantStep, math.Min(rampWps*plantStep, move))
		v.soc += v.outputW * plantStep / 3600 / v.capacityWh
	}
	p.gridW = p.loadW(t)
	for _, v := range p.inverters {
		p.gridW += v.outputW
	}
	p.meters = append(p.meters, p.gridW)
	p.step++
}

// snapshot is what a poll would read.
func (p *plant) snapshot() Snapshot {
	s := Snapshot{At: p.now(), ImportLimitW: 18000,
		Grid: Known(math.Round(p.flow(3) + p.noiseW*p.noise.NormFloat64()))}
	for _, v := range p.inverters {
		s.Units = append(s.Units, Unit{Name: v.name, Commanded: true, CanCharge: true, CanDischarge: true,
			ChargeMaxW: v.ratingW, DischargeMaxW: v.ratingW, CapacityWh: v.capacityWh, ReserveSOC: v.reserve,
			Power: Known(math.Round(v.outputW)), SOC: Known(math.Round(v.soc*1000) / 1000)})
	}
	return s
}

func (p *plant) obey(commands []Command) {
	for _, c := range commands {
		for _, v := range p.inverters {
			if v.name == c.Unit {
				v.next = c.Band
			}
		}
	}
}

func (p *plant) circulatingW() float64 {
	in, out := 0.0, 0.0
	for _, v := range p.inverters {
		in += math.Max(v.outputW, 0)
		out += math.Max(-v.outputW, 0)
	}
	return math.Min(in, out)
}

// avoidableW is the grid flow that the batteries could have taken away.
func (p *plant) avoidableW() float64 {
	load := p.loadW(float64(p.step-1) * plantStep)
	lo, hi := 0.0, 0.0
	for _, v := range p.inverters {
		if v.soc > v.reserve {
			lo -= v.ratingW
		}
		if v.soc < 1 {
			hi += v.ratingW
		}
	}
	return p.gridW - (load + math.Max(lo, math.Min(hi, -load)))
}

// record is what a run of the plant showed.
type record struct {
	longestCirculatingS float64 // longest time above 120 W
	worstCirculatingW   float64
	longestUnservedS    float64 // longest time after a step of load in which the avoidable flow stayed above 200 W
	writes              int
	spread              float64 // largest difference of states of charge in the last quarter

	circulating, unserved int // steps of the current episode
	loadW                 float64
}

// see watches one step.
func (r *record) see(p *plant) {
	r.circulating, r.unserved = r.circulating+1, r.unserved+1
	if c := p.circulatingW(); c > 120 {
		r.worstCirculatingW = math.Max(r.worstCirculatingW, c)
	} else {
		r.circulating = 0
	}
	load := p.loadW(float64(p.step-1) * plantStep)
	if math.Abs(p.avoidableW()) <= 200 || math.Abs(load-r.loadW) > 200 {
		r.unserved = 0
	}
	r.loadW = load
	r.longestCirculatingS = math.Max(r.longestCirculatingS, float64(r.circulating)*plantStep)
	r.longestUnservedS = math.Max(r.longestUnservedS, float64(r.unserved)*plantStep)
}

// run lets the plant go, with a policy that polls every 10 s or with none.
func (p *plant) run(lasts time.Duration, policy *Policy, each func(Snapshot) Snapshot) record {
	var r record
	for p.now() < lasts {
		if policy != nil && p.step%100 == 0 {
			s := p.snapshot()
			if each != nil {
				s = each(s)
			}
			commands := policy.Decide(s)
			r.writes += len(commands)
			p.obey(commands)
		}
		p.advance()
		r.see(p)
		if p.now() > lasts*3/4 {
			r.spread = math.Max(r.spread, math.Abs(p.inverters[0].soc-p.inverters[1].soc))
		}
	}
	return r
}

// bakeryPair is north and south with given meter errors, in a plant with noise.
func bakeryPair(seed uint64, load func(t float64) float64) *plant {
	wide := func(w float64) Band { return Band{MinW: -w, MaxW: w} }
	north := &nativeInverter{name: "north", ratingW: 5000, capacityWh: 10000, soc: 0.5, reserve: 0.1, gain: 0.2,
		phase: 2, offsetW: -10, gainError: 0.01, latency: 3, dead: 4, band: wide(5000), next: wide(5000)}
	south := &nativeInverter{name: "south", ratingW: 3600, capacityWh: 6400, soc: 0.5, reserve: 0.1, gain: 0.25,
		phase: 7, offsetW: 15, gainError: -0.005, latency: 5, dead: 3, band: wide(3600), next: wide(3600)}
	return &plant{inverters: []*nativeInverter{north, south}, loadW: load, noise: rand.New(rand.NewPCG(seed, 1)), noiseW: 3}
}
