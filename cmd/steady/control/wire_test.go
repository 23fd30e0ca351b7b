package control

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"io"
	"math"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// device is a Modbus device of the test: it serves the registers of one unit.
type device struct {
	holding, input map[uint16]uint16
	holes          bool // registers that do not exist are refused, else they read as 0
	reads          int
	written        func(address uint16, values []uint16) (exception byte)
	hangUp         bool // closes the connection instead of answering
}

func newDevice() *device {
	return &device{holding: map[uint16]uint16{}, input: map[uint16]uint16{}}
}

// answer serves functions 3, 4 and 16 and refuses all others.
func (d *device) answer(pdu []byte) []byte {
	refuse := func(code byte) []byte { return []byte{pdu[0] | 0x80, code} }
	if len(pdu) < 5 {
		return refuse(3)
	}
	address, count := binary.BigEndian.Uint16(pdu[1:]), binary.BigEndian.Uint16(pdu[3:])
	switch pdu[0] {
	case 3, 4:
		d.reads++
		table := d.holding
		if pdu[0] == 4 {
			table = d.input
		}
		out := []byte{pdu[0], byte(2 * count)}
		for i := range count {
			w, ok := table[address+i]
			if !ok && d.holes {
				return refuse(2)
			}
			out = binary.BigEndian.AppendUint16(out, w)
		}
		return out
	case 16:
		values := make([]uint16, count)
		for i := range values {
			values[i] = binary.BigEndian.Uint16(pdu[6+2*i:])
		}
		if d.written != nil {
			if code := d.written(address, values); code != 0 {
				return refuse(code)
			}
		}
		for i, v := range values {
			d.holding[address+uint16(i)] = v
		}
		return pdu[:5]
	}
	return refuse(1)
}

// host serves units at one loopback address. All requests of a test take turns.
type host struct {
	listener net.Listener
	turn     *sync.Mutex
	before   func()
	units    map[byte]*device
	mu       sync.Mutex
	open     []net.Conn
}

func serve(turn *sync.Mutex, before func(), units map[byte]*device) *host {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	Expect(err).NotTo(HaveOccurred())
	h := &host{listener: l, turn: turn, before: before, units: units}
	DeferCleanup(h.close)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			h.mu.Lock()
			h.open = append(h.open, c)
			h.mu.Unlock()
			go h.talk(c)
		}
	}()
	return h
}

func (h *host) address() string { return h.listener.Addr().String() }

func (h *host) close() {
	_ = h.listener.Close()
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, c := range h.open {
		_ = c.Close()
	}
}

func (h *host) talk(c net.Conn) {
	defer func() { _ = c.Close() }()
	for {
		head := make([]byte, 7)
		if _, err := io.ReadFull(c, head); err != nil {
			return
		}
		pdu := make([]byte, binary.BigEndian.Uint16(head[4:])-1)
		if _, err := io.ReadFull(c, pdu); err != nil {
			return
		}
		h.turn.Lock()
		if h.before != nil {
			h.before()
		}
		d := h.units[head[6]]
		reply := d.answer(pdu)
		hangUp := d.hangUp
		h.turn.Unlock()
		if hangUp {
			return
		}
		out := append(head[:4:4], 0, byte(len(reply)+1), head[6])
		if _, err := c.Write(append(out, reply...)); err != nil {
			return
		}
	}
}

// put32 lays a 32-bit value over two registers, low word first where asked.
func put32(m map[uint16]uint16, address uint16, v uint32, lowFirst bool) {
	m[address], m[address+1] = uint16(v>>16), uint16(v)
	if lowFirst {
		m[address], m[address+1] = m[address+1], m[address]
	}
}

// chainOf lays out a SunSpec chain of empty models and returns their addresses.
func chainOf(m map[uint16]uint16, base uint16, models ...[2]uint16) map[uint16]uint16 {
	m[base], m[base+1] = 0x5375, 0x6E53
	at, where := base+2, map[uint16]uint16{}
	for _, id := range models {
		m[at], m[at+1], where[id[0]] = id[0], id[1], at
		for i := range id[1] {
			m[at+2+i] = 0x8000
		}
		at += 2 + id[1]
	}
	m[at], m[at+1] = 0xFFFF, 0
	return where
}

// bench is a small bench with the test plant behind it: north and the grid
// meter are SunSpec devices, south is declared; time steps when steady waits.
type bench struct {
	turn              sync.Mutex
	plant             *plant
	lasts             time.Duration
	cheap             func(t float64) bool
	clock             *device
	meter, north      *device
	south, tariff     *device
	writes            int
	clockHost, others *host
	record            record
	eachStep          func()
	file              string
}

func newBench(p *plant, lasts time.Duration) *bench {
	b := &bench{plant: p, lasts: lasts, clock: newDevice(), meter: newDevice(), north: newDevice(),
		south: newDevice(), tariff: newDevice()}
	b.layOut()
	b.clockHost = serve(&b.turn, b.refresh, map[byte]*device{1: b.clock})
	b.others = serve(&b.turn, b.refresh, map[byte]*device{2: b.meter, 3: b.north, 4: b.south, 5: b.tariff})
	b.file = filepath.Join(GinkgoT().TempDir(), "bench.json")
	b.write(nil)
	return b
}

// write puts the bench file down, after a test has changed it at will.
func (b *bench) write(change func(map[string]any)) {
	reg := func(table string, address int, kind string, more ...any) map[string]any {
		m := map[string]any{"table": table, "address": address, "type": kind, "scale": 1, "sign": 1}
		for i := 0; i < len(more); i += 2 {
			m[more[i].(string)] = more[i+1]
		}
		return m
	}
	f := map[string]any{
		"format": 1, "scenario": "test", "site": "bakery", "pace": "stepped", "zone": "Europe/Oslo",
		"starts": "2026-06-18T10:30:00+02:00",
		"supply": map[string]any{"phases": 3, "voltage_v": 230, "fuse_a": 32, "import_limit_w": 18000},
		"clock": map[string]any{"address": b.clockHost.address(), "unit": 1, "registers": map[string]any{
			"time_ms": reg("input", 0, "uint32"),
			"wait_ms": reg("holding", 0, "uint32", "writable", true)}},
		"devices": []any{
			map[string]any{"name": "grid_meter", "kind": "meter", "role": "grid", "address": b.others.address(), "unit": 2, "map": "sunspec", "base": 40000},
			map[string]any{"name": "north", "kind": "inverter", "role": "battery", "address": b.others.address(), "unit": 3, "map": "sunspec", "base": 40000,
				"command": true, "rating_w": 5000, "capacity_wh": 10000, "meter": "north_ct"},
			map[string]any{"name": "south", "kind": "inverter", "role": "battery", "address": b.others.address(), "unit": 4, "map": "south",
				"command": true, "rating_w": 3600, "capacity_wh": 6400, "registers": map[string]any{
					"ac_power":        reg("input", 3000, "int32", "words", "low first", "scale", 0.1, "unit", "W", "sign", -1),
					"soc":             reg("input", 3008, "uint16", "scale", 0.1, "unit", "%"),
					"charge_limit":    reg("holding", 2100, "uint16", "unit", "W", "writable", true, "lo", 0, "hi", 3600, "lasts_s", 60),
					"discharge_limit": reg("holding", 2101, "int16", "unit", "W", "writable", true, "lo", -3600, "hi", 3600, "lasts_s", 60)}},
			map[string]any{"name": "tariff", "kind": "tariff", "address": b.others.address(), "unit": 5,
				"registers": map[string]any{"cheap_slot": reg("input", 10, "uint16")}},
		},
	}
	if change != nil {
		change(f)
	}
	data, err := json.Marshal(f)
	Expect(err).NotTo(HaveOccurred())
	Expect(os.WriteFile(b.file, data, 0o600)).To(Succeed())
}

func (b *bench) layOut() {
	at := chainOf(b.meter.holding, 40000, [2]uint16{1, 66}, [2]uint16{203, 105})
	b.meter.holding[at[203]+meterWSF] = 0
	at = chainOf(b.north.holding, 40000, [2]uint16{1, 65}, [2]uint16{103, 50}, [2]uint16{120, 26}, [2]uint16{121, 30},
		[2]uint16{122, 44}, [2]uint16{123, 24}, [2]uint16{124, 24})
	n := b.north.holding
	n[at[103]+inverterWSF] = 0
	n[at[120]+nameplateMaxDischarge], n[at[120]+nameplateMaxDischargeSF] = 500, 1
	s := at[124]
	n[s+storageWChaMax], n[s+storageWChaMaxSF] = 5000, 0
	n[s+storageControl], n[s+storageWindow], n[s+storageRevert], n[s+storageGridAllow] = 0, 0, 0, 1
	n[s+storageReserve], n[s+storageReserveSF] = 1000, 0xFFFE
	n[s+storageStateSF], n[s+storageRateSF] = 0xFFFF, 0xFFFE
	b.north.written = func(uint16, []uint16) byte { b.writes++; return 0 }
	b.south.holes = true
	b.south.holding[2100], b.south.holding[2101] = 3600, 3600
	b.south.written = func(uint16, []uint16) byte { b.writes++; return 0 }
	b.clock.written = b.step
	put32(b.clock.holding, 0, 0, false)
}

// storage is where model 124 of north starts: SS-28 less one, since this chain
// has the common model of 65 registers that is met in the field (check-values SS-13).
const storage = 40253

// step lets the plant run for the time that was waited for, and hangs up at the end.
func (b *bench) step(_ uint16, values []uint16) byte {
	d := time.Duration(uint32(values[0])<<16|uint32(values[1])) * time.Millisecond
	for until := b.plant.now() + d; b.plant.now() < until; {
		if b.plant.now() >= b.lasts {
			b.clock.hangUp = true
			return 0
		}
		b.obey()
		b.plant.advance()
		b.record.see(b.plant)
		if b.eachStep != nil {
			b.eachStep()
		}
	}
	return 0
}

// obey takes the limits out of the registers.
func (b *bench) obey() {
	n := b.north.holding
	band := Band{-5000, 5000}
	if n[storage+storageControl]&1 != 0 {
		band.MaxW = float64(int16(n[storage+storageInRate])) / 100 * 50
	}
	if n[storage+storageControl]&2 != 0 {
		band.MinW = -float64(int16(n[storage+storageOutRate])) / 100 * 50
	}
	b.plant.inverters[0].next = band
	s := b.south.holding
	b.plant.inverters[1].next = Band{MinW: -float64(int16(s[2101])), MaxW: float64(s[2100])}
}

// refresh puts the plant's values into the registers.
func (b *bench) refresh() {
	s := b.plant.snapshot()
	b.meter.holding[40070+meterW] = uint16(int16(s.Grid.Value))
	b.north.holding[40069+inverterW] = uint16(int16(-s.Units[0].Power.Value))
	b.north.holding[storage+storageChaState] = uint16(math.Round(s.Units[0].SOC.Value * 1000))
	put32(b.south.input, 3000, uint32(int32(-10*s.Units[1].Power.Value)), true)
	b.south.input[3008] = uint16(math.Round(s.Units[1].SOC.Value * 1000))
	put32(b.clock.input, 0, uint32(b.plant.now()/time.Millisecond), false)
	b.tariff.input[10] = 0
	if b.cheap != nil && b.cheap(b.plant.now().Seconds()) {
		b.tariff.input[10] = 1
	}
}

func (b *bench) run(args ...string) (int, string) {
	var log bytes.Buffer
	code := Program{}.run(context.Background(), append([]string{"--bench", b.file}, args...), &log)
	b.turn.Lock() // what the devices saw is read from here on
	defer b.turn.Unlock()
	return code, log.String()
}

var _ = Describe("steady on the wire", func() {
	It("keeps two inverters of different maps from circulating, and leaves quietly when the bench closes", func() {
		b := newBench(bakeryPair(3, constant(-500)), time.Hour)
		code, log := b.run()
		Expect(code).To(Equal(exitDone))
		Expect(log).To(HaveSuffix("11:30:00 bench closed\n"))
		Expect(strings.Count(log, "bench closed")).To(Equal(1))
		Expect(log).NotTo(ContainSubstring("does not"))
		Expect(b.record.longestCirculatingS).To(BeNumerically("<", 30))
		Expect(b.record.longestUnservedS).To(BeNumerically("<", 30))
	})

	It("reads each measured block once a poll", func() {
		b := newBench(bakeryPair(3, constant(-500)), time.Hour)
		b.run()
		polls := 360
		Expect(b.meter.reads).To(BeNumerically("~", polls, 10))
		Expect(b.north.reads).To(BeNumerically("~", 2*polls, 20)) // power, and the battery's model
		Expect(b.south.reads).To(BeNumerically("~", 2*polls, 20)) // it refuses to read over its gaps
	})

	It("charges both in the cheap slot, and cuts that when the van starts", func() {
		load := at(3000, [2]float64{600, 14000})
		b := newBench(bakeryPair(4, load), 20*time.Minute)
		b.cheap = func(t float64) bool { return t >= 60 }
		over := 0.0
		b.eachStep = func() {
			if b.plant.gridW > 18000 {
				over += plantStep
			}
			if b.plant.now() > 5*time.Minute && b.plant.now() < 9*time.Minute {
				Expect(b.plant.gridW).To(BeNumerically("~", 3000+8600, 60))
			}
		}
		code, log := b.run()
		Expect(code).To(Equal(exitDone))
		Expect(log).To(ContainSubstring("charges 5000 W"))
		Expect(over).To(BeNumerically("<", 13)) // one poll, and the dead time and lag of the inverters
		Expect(b.plant.gridW).To(BeNumerically("~", 17500, 130))
	})

	It("releases the limits when it is stopped", func() {
		b := newBench(bakeryPair(3, constant(-500)), time.Hour)
		ctx, stop := context.WithCancel(context.Background())
		b.eachStep = func() {
			if b.plant.now() == 30*time.Minute {
				stop()
			}
		}
		var log bytes.Buffer
		Expect(Program{}.run(ctx, []string{"--bench", b.file}, &log)).To(Equal(exitDone))
		Expect(log.String()).To(HaveSuffix("stopped, limits released\n"))
		b.turn.Lock()
		defer b.turn.Unlock()
		Expect(b.north.holding[storage+storageControl]).To(BeZero())
		Expect([]uint16{b.south.holding[2100], b.south.holding[2101]}).To(Equal([]uint16{3600, 3600}))
	})

	It("renews limits before the device forgets them, and restores them after a restart of the device", func() {
		b := newBench(bakeryPair(3, constant(-500)), 30*time.Minute)
		b.eachStep = func() {
			if b.plant.now() == 10*time.Minute {
				b.north.holding[storage+storageControl] = 0
				b.north.holding[storage+storageInRate] = 10000
				b.north.holding[storage+storageOutRate] = 10000
			}
		}
		lastSouth, gap := time.Duration(0), time.Duration(0)
		b.south.written = func(uint16, []uint16) byte {
			if lastSouth > 0 {
				gap = max(gap, b.plant.now()-lastSouth)
			}
			lastSouth = b.plant.now()
			return 0
		}
		_, log := b.run()
		Expect(log).To(ContainSubstring("south only charges"))
		Expect(gap).To(BeNumerically("<=", 50*time.Second)) // its limits last 60 s
		Expect(b.record.longestCirculatingS).To(BeNumerically("<", 30))
	})

	It("gives the limits of a SunSpec inverter a revert time, so that they do not outlive the supervisor", func() {
		b := newBench(bakeryPair(3, constant(-500)), 20*time.Minute)
		b.plant.inverters[0].soc = 0.6 // south is to charge first, so north is held
		_, log := b.run("--lease", "240s")
		Expect(log).To(ContainSubstring("north holds still"))
		Expect(b.north.holding[storage+storageRevert]).To(Equal(uint16(240)))
		b = newBench(bakeryPair(3, constant(-500)), 20*time.Minute)
		b.cheap = func(float64) bool { return true }
		b.run("--lease", "240s")
		Expect(b.north.holding[storage+storageRevert]).To(Equal(uint16(48)))
	})

	It("lives through a device that hangs up, says so once, and does not hurry back", func() {
		b := newBench(bakeryPair(3, constant(-500)), 30*time.Minute)
		requests := 0
		b.eachStep = func() {
			t := b.plant.now()
			if t == 10*time.Minute {
				requests = b.south.reads
			}
			if t == 20*time.Minute {
				requests = b.south.reads - requests
			}
			b.south.hangUp = t > 10*time.Minute && t < 20*time.Minute
		}
		code, log := b.run()
		Expect(code).To(Equal(exitDone))
		Expect(strings.Count(log, "south does not answer")).To(Equal(1))
		Expect(strings.Count(log, "south answers again")).To(Equal(1))
		Expect(requests).To(BeNumerically("<", 30))
	})

	It("says once that a device refuses its limits, and does not hurry", func() {
		b := newBench(bakeryPair(3, constant(-500)), 30*time.Minute)
		refused := 0
		b.south.written = func(uint16, []uint16) byte { refused++; return 4 }
		code, log := b.run()
		Expect(code).To(Equal(exitDone))
		Expect(strings.Count(log, "south does not take its limits")).To(Equal(1))
		Expect(refused).To(BeNumerically("<", 40))
	})
})

var _ = Describe("the command line", func() {
	run := func(args ...string) (int, string) {
		var log bytes.Buffer
		code := Program{}.run(context.Background(), args, &log)
		return code, log.String()
	}

	DescribeTable("refuses what cannot be meant", func(want string, args ...string) {
		code, log := run(append(args, "--bench", "none.json")...)
		Expect(code).To(Equal(exitUsage))
		Expect(log).To(ContainSubstring(want))
	},
		Entry("a power without unit", "must be a power such as 60W", "--circulating-above", "60"),
		Entry("a percentage without unit", "must be a percentage such as 4%", "--soc-apart", "4"),
		Entry("a period without unit", "period", "--period", "10"),
		Entry("thresholds that have no room", "must be less than soc-apart", "--soc-apart", "2%", "--soc-together", "2%"),
		Entry("a word that is no flag", "unexpected argument", "now"),
		Entry("a file that is not there", "none.json"),
	)

	It("takes units in every usual size", func() {
		o, err := parse([]string{"--margin", "1.5kW", "--circulating-above", "80 W", "--soc-apart", "5%", "--period", "20s", "--bench", "x"}, io.Discard)
		Expect(err).NotTo(HaveOccurred())
		Expect(o.MarginW).To(Equal(1500.0))
		Expect(o.CirculatingAboveW).To(Equal(80.0))
		Expect(o.SOCApart).To(Equal(0.05))
		Expect(o.period).To(Equal(20 * time.Second))
	})

	DescribeTable("names what is wrong in a bench file", func(text, want string) {
		path := filepath.Join(GinkgoT().TempDir(), "bench.json")
		Expect(os.WriteFile(path, []byte(text), 0o600)).To(Succeed())
		code, log := run("--bench", path)
		Expect(code).To(Equal(exitUsage))
		Expect(log).To(ContainSubstring(path))
		Expect(log).To(ContainSubstring(want))
	},
		Entry("syntax, with its line", "{\n\"format\": 1,\n!", "bench.json:3: "),
		Entry("another format", `{"format":2}`, "format is 2: must be 1"),
		Entry("an unknown pace", `{"format":1,"pace":"fast"}`, `pace is "fast": must be real, stepped, follow, or x and a number`),
		Entry("no grid meter", `{"format":1}`, "0 meters with the role grid: must have one"),
		Entry("no battery", `{"format":1,"devices":[{"name":"m","kind":"meter","role":"grid"}]}`, "no inverter with the role battery"),
	)
})
