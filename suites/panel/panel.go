package panel

import (
	"context"
	"crypto/sha256"
	"hash"
	"math"
	"sync"
	"time"

	"kilter/emulator"
	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/scenarios"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// Options make a panel.
type Options struct {
	Scenario *scenarios.Scenario
	Site     report.Wiring
	// Findings judge the run so far. It is called between two ticks.
	Findings func() []verdict.Criterion
}

// Panel shows one bench.
type Panel struct {
	options Options
	bench   *emulator.Bench
	hub     *hub
	traffic overheard

	mutex    sync.Mutex // guards all below
	columns  []column
	states   []state
	now      now
	history  [][]float64 // one row a second: the time, then the columns
	findings []verdict.Criterion
	happened []happening
	injected []scenarios.Event
	played   []scenarios.Event
	given    hash.Hash // of what the loads and the sky took, tick by tick

	sent, judged time.Time      // on the wall clock
	sentS        float64        // the simulated time that was sent last [s]
	judgedS      float64        // that of the findings [s]
	seen         *emulator.Tick // which the bench uses again, and shows between two ticks
}

// now is what the site is in at one moment.
type now struct {
	AtS    float64   `json:"at"`
	Clock  string    `json:"clock"`
	Pace   string    `json:"pace"`
	Values []float64 `json:"values"`
	Words  []string  `json:"words"`
}

// happening is something that happened or is to come.
type happening struct {
	AtS  float64 `json:"at"`
	Text string  `json:"text"`
	Hand bool    `json:"hand,omitempty"`
	Sick bool    `json:"sick,omitempty"`
}

// kept is how much of the run the strip charts show.
const kept = 600

// New makes a panel. Its Observe and its Overhear belong into the bench's options, and Attach tells it the bench.
func New(opt Options) *Panel { return &Panel{options: opt, hub: newHub(), given: sha256.New()} }

// Attach tells the panel its bench, before that runs.
func (p *Panel) Attach(b *emulator.Bench) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.bench = b
	p.columns, p.states = columnsOf(p.options.Scenario, b.Plant()), statesOf(p.options.Scenario, b.Plant())
	p.now = now{Values: make([]float64, len(p.columns)), Words: make([]string, len(p.states)), Pace: b.PaceNow().String()}
	p.traffic.names = namesOf(b)
	p.findings = p.options.Findings()
}

// namesOf tells for each device which point stands at which register.
func namesOf(b *emulator.Bench) map[string]map[place]string {
	names := map[string]map[place]string{}
	var room []registers.Reading
	for _, d := range b.File().Devices {
		room = b.Registers(d.Name, room[:0])
		names[d.Name] = map[place]string{}
		for _, r := range room {
			names[d.Name][place{r.Table, r.Address}] = r.Name
		}
	}
	return names
}

// Overhear takes in an exchange.
func (p *Panel) Overhear(device string, x modbus.Exchange) { p.traffic.take(device, x) }

// How often, on the wall clock, viewers are told what the site is in, and how the criteria stand.
const (
	refresh = 100 * time.Millisecond
	rejudge = 500 * time.Millisecond
)

// Observe takes in a tick.
func (p *Panel) Observe(t *emulator.Tick) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.seen = t
	var bits [8]byte
	p.given.Write(appendBits(bits[:0], t.Plant.GivenW))
	if len(t.Events) > 0 {
		p.note(t.Events)
	}
	second := t.Plant.TimeMS()%1000 == 0
	wall := time.Now()
	due := wall.Sub(p.sent) >= refresh
	if !second && !due {
		return
	}
	p.look(t)
	if second {
		p.remember()
	}
	if !due {
		return
	}
	p.sent = wall
	p.sentS = p.now.AtS
	p.hub.send("now", p.now)
	if wall.Sub(p.judged) >= rejudge {
		p.judged = wall
		p.judge()
	}
}

// judge tells how the criteria stand. The caller holds the mutex.
func (p *Panel) judge() {
	p.findings, p.judgedS = p.options.Findings(), p.now.AtS
	p.hub.send("criteria", marginsOf(p.findings))
}

// look reads all figures. The caller holds the mutex.
func (p *Panel) look(t *emulator.Tick) {
	p.now.AtS = float64(t.Plant.TimeMS()) / 1000
	sc := p.options.Scenario
	p.now.Clock = sc.Starts.Add(time.Duration(t.Plant.TimeMS()) * time.Millisecond).In(sc.Zone).Format("15:04:05")
	for i := range p.columns {
		c := &p.columns[i]
		p.now.Values[i] = rounded(c.read(), c.quantum)
	}
	for i := range p.states {
		p.now.Words[i] = p.states[i].read(t)
	}
}

// remember keeps a row for the strip charts, in the place of the oldest one. The caller holds the mutex.
func (p *Panel) remember() {
	var row []float64
	if len(p.history) >= kept {
		row = p.history[0][:0]
		copy(p.history, p.history[1:])
		p.history = p.history[:len(p.history)-1]
	}
	p.history = append(p.history, append(append(row, p.now.AtS), p.now.Values...))
}

// note takes in what began at this tick. The caller holds the mutex.
func (p *Panel) note(events []scenarios.Event) {
	for _, e := range events {
		p.played = append(p.played, e)
		p.happened = append(p.happened, p.tell(e))
	}
	if n := len(p.happened); n > kept {
		p.happened = p.happened[n-kept:]
	}
	go p.tellTimeline() // it asks the bench what is to come, which this tick holds
}

func (p *Panel) tell(e scenarios.Event) happening {
	h := happening{AtS: e.At.Seconds(), Text: e.Text, Sick: e.Link != nil}
	for _, x := range p.injected {
		h.Hand = h.Hand || x == e
	}
	return h
}

// timeline is what happened and what is to come.
type timeline struct {
	Past   []happening `json:"past"`
	Coming []happening `json:"coming"`
}

func (p *Panel) timeline() timeline {
	t := timeline{Coming: []happening{}}
	p.bench.Between(func(coming []scenarios.Event) {
		p.mutex.Lock()
		defer p.mutex.Unlock()
		t.Past = append([]happening{}, p.happened...)
		for _, e := range coming {
			t.Coming = append(t.Coming, p.tell(e))
		}
	})
	return t
}

func (p *Panel) tellTimeline() { p.hub.send("timeline", p.timeline()) }

// Run tells viewers about traffic and registers until the context ends, and then sends them away.
func (p *Panel) Run(ctx context.Context) {
	tick := time.NewTicker(250 * time.Millisecond)
	defer tick.Stop()
	defer p.hub.close()
	shown := map[string]string{}
	for n := 0; ; n++ {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if p.hub.count() == 0 {
			clear(shown)
			continue
		}
		p.catchUp()
		if fresh := p.traffic.untold(); len(fresh) > 0 {
			p.hub.send("traffic", fresh)
		}
		if n%4 == 0 {
			if changed := p.registers(shown); len(changed) > 0 {
				p.hub.send("registers", changed)
			}
		}
	}
}

// catchUp tells viewers the last of what happened before time was held.
func (p *Panel) catchUp() {
	p.bench.Between(func([]scenarios.Event) {
		p.mutex.Lock()
		defer p.mutex.Unlock()
		if p.seen == nil || time.Since(p.sent) < 2*refresh {
			return
		}
		if at := float64(p.seen.Plant.TimeMS()) / 1000; p.sentS == at && p.judgedS == at {
			return
		}
		p.look(p.seen)
		p.sent, p.sentS = time.Now(), p.now.AtS
		p.hub.send("now", p.now)
		p.judge()
	})
}

func appendBits(to []byte, v float64) []byte {
	n := math.Float64bits(v)
	for i := range 8 {
		to = append(to, byte(n>>(8*i)))
	}
	return to
}
