package registers_test

import (
	"fmt"
	"math"
	"slices"

	. "github.com/onsi/ginkgo/v2"
	"pgregory.net/rapid"

	"kilter/emulator/registers"
)

// decode reads a described point as a controller in any language would: from the description alone.
func decode(im *registers.Image, d registers.Description, p registers.PointDescription) (raw uint64, value float64) {
	tables := map[string]registers.Table{"holding": registers.Holding, "input": registers.Input, "coil": registers.Coil, "discrete": registers.Discrete}
	words := make([]uint16, p.Registers)
	if err := im.Read(tables[p.Table], p.Address, words); err != nil {
		panic(err)
	}
	if p.Type != "bit" && d.ByteOrder == "low byte first" {
		for i, w := range words {
			words[i] = w<<8 | w>>8
		}
	}
	if d.WordOrder == "low word first" {
		slices.Reverse(words)
	}
	for _, w := range words {
		raw = raw<<16 | uint64(w)
	}
	x := float64(raw)
	switch p.Type {
	case "int16":
		x = float64(int16(raw))
	case "int32":
		x = float64(int32(raw))
	case "int64":
		x = float64(int64(raw))
	case "float32":
		x = float64(math.Float32frombits(uint32(raw)))
	case "float64":
		x = math.Float64frombits(raw)
	}
	return raw, float64(p.Sign) * (float64(x*p.Scale) + p.Offset)
}

func drawMap(t *rapid.T) *registers.Map {
	kind := rapid.SampledFrom([]string{"int16", "int32", "int64", "float32", "float64"})
	src := fmt.Sprintf("map: drawn\nwords: %s\nbytes: %s\nsignals:\n"+
		"  ac_power: input %d %s x %s %s, %s positive, offset %d\n"+
		"  setpoint: holding 0 %s x %s W, %s positive, writable\n",
		rapid.SampledFrom([]string{"high word first", "low word first"}).Draw(t, "words"),
		rapid.SampledFrom([]string{"high byte first", "low byte first"}).Draw(t, "bytes"),
		rapid.IntRange(0, 65532).Draw(t, "address"), kind.Draw(t, "type"),
		rapid.SampledFrom([]string{"1", "0.1", "0.25", "10", "0.001", "3"}).Draw(t, "scale"),
		rapid.SampledFrom([]string{"W", "kW"}).Draw(t, "unit"),
		rapid.SampledFrom([]string{"charge", "discharge", "import", "export"}).Draw(t, "sign"),
		rapid.IntRange(-50, 50).Draw(t, "offset"), kind.Draw(t, "command type"),
		rapid.SampledFrom([]string{"1", "0.5", "10"}).Draw(t, "command scale"),
		rapid.SampledFrom([]string{"charge", "discharge"}).Draw(t, "command sign"))
	m, err := registers.ParseMap("drawn.yaml", []byte(src))
	if err != nil {
		t.Fatalf("%v in\n%s", err, src)
	}
	return m
}

var _ = Describe("For any declared map", func() {
	It("a value comes back from its registers within half a step, or clipped", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			m := drawMap(t)
			im, d := registers.NewImage(m, registers.Options{}), m.Describe()
			x := rapid.Float64Range(-1e7, 1e7).Draw(t, "x")
			im.Refresh(snapshot(registers.ACPower, x))
			i := slices.IndexFunc(d.Points, func(p registers.PointDescription) bool { return p.Name == "ac_power" })
			p := d.Points[i]
			raw, back := decode(im, d, p)
			if fmt.Sprintf("0x%0*X", 4*p.Registers, raw) == p.Unknown {
				t.Fatalf("a known value reads as not known")
			}
			tolerance := p.Scale / 2
			if p.Type == "float32" {
				// 24 bits of mantissa, and the spacing of the smallest float32.
				tolerance = 1e-6*(math.Abs(x)+math.Abs(p.Offset)) + 1e-40
			}
			tolerance += 1e-9 * (math.Abs(x) + math.Abs(p.Offset))
			reach := map[string]float64{"int16": 32767, "int32": math.MaxInt32}[p.Type]
			if inRegister := (float64(p.Sign)*x - p.Offset) / p.Scale; reach != 0 && math.Abs(inRegister) > reach {
				clipped := float64(p.Sign) * (math.Copysign(reach, inRegister)*p.Scale + p.Offset)
				if math.Abs(back-clipped) > tolerance {
					t.Fatalf("%g came back as %g, clipped it is %g", x, back, clipped)
				}
				return
			}
			if math.Abs(back-x) > tolerance {
				t.Fatalf("%g came back as %g: %+v", x, back, p)
			}
		})
	})

	It("a write reads back word for word, and its command is what the description decodes", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			m := drawMap(t)
			im, d := registers.NewImage(m, registers.Options{}), m.Describe()
			p := d.Points[slices.IndexFunc(d.Points, func(p registers.PointDescription) bool { return p.Name == "setpoint" })]
			words := rapid.SliceOfN(rapid.Uint16(), int(p.Registers), int(p.Registers)).Draw(t, "words")
			var commands []registers.Command
			err := im.Write(0, words, func(c registers.Command) { commands = append(commands, c) })
			if err != nil {
				if len(commands) > 0 {
					t.Fatalf("refused and yet commanded")
				}
				return
			}
			back := make([]uint16, len(words))
			if err := im.Read(registers.Holding, 0, back); err != nil || !slices.Equal(back, words) {
				t.Fatalf("wrote %v, read %v, %v", words, back, err)
			}
			_, value := decode(im, d, p)
			if len(commands) != 1 || commands[0].Value != value {
				t.Fatalf("commands %v, described value %g", commands, value)
			}
		})
	})
})

var _ = Describe("For any rating", func() {
	It("a SunSpec inverter's power within twice the rating comes back within half a step", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			rating := rapid.Float64Range(100, 5e6).Draw(t, "rating")
			x := rapid.Float64Range(-2, 2).Draw(t, "load") * rating
			sign := rapid.SampledFrom([]registers.SignChoice{registers.SignDefault, registers.SignInto, registers.SignOutOf}).Draw(t, "sign")
			im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: registers.Ratings{PowerW: rating}, Sign: sign})
			im.Refresh(snapshot(registers.ACPower, x))
			d := im.Describe()
			for _, p := range d.Points {
				if p.Name != "103.W" {
					continue
				}
				if _, back := decode(im, d, p); math.Abs(back-x) > p.Scale/2*(1+1e-9) {
					t.Fatalf("%g came back as %g at scale %g", x, back, p.Scale)
				}
			}
		})
	})

	It("no snapshot whatever makes a bound point of a chain read as not known, except by NaN", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			im := registers.NewImage(registers.SunSpecBattery(3), registers.Options{Ratings: ratings})
			v := registers.Unknown()
			x := rapid.Float64().Draw(t, "x")
			for s := registers.ACPower; s < registers.OperatingState; s++ {
				v[s] = x
			}
			im.Refresh(&v)
			d := im.Describe()
			for _, p := range d.Points {
				s, err := registers.ParseSignal(p.Signal)
				if err != nil || s >= registers.OperatingState || p.Counter {
					continue
				}
				if raw, _ := decode(im, d, p); fmt.Sprintf("0x%0*X", 4*p.Registers, raw) == p.Unknown {
					t.Fatalf("%s reads as not known for %g", p.Name, x)
				}
			}
		})
	})
})

var _ = Describe("For any growth of a counter", func() {
	It("a SunSpec accumulator never goes back, and wraps by what its size can hold", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			im := registers.NewImage(registers.SunSpecBattery(3), registers.Options{Ratings: ratings})
			wh := rapid.SampledFrom([]float64{0, 1e6, 1<<32 - 10, 1 << 33}).Draw(t, "start")
			read := func(name string, size int) uint64 {
				v := registers.Unknown()
				v[registers.EnergyExported] = wh
				im.Refresh(&v)
				words := make([]uint16, size)
				if err := im.Read(registers.Holding, im.Point(name).Address, words); err != nil {
					t.Fatal(err)
				}
				raw := uint64(0)
				for _, w := range words {
					raw = raw<<16 | uint64(w)
				}
				return raw
			}
			short, long, before := uint32(read("103.WH", 2)), read("122.ActWh", 4), math.Floor(wh)
			for _, step := range rapid.SliceOfN(rapid.Float64Range(0, 1e5), 1, 20).Draw(t, "steps") {
				wh += step
				nowShort, nowLong, now := uint32(read("103.WH", 2)), read("122.ActWh", 4), math.Floor(wh)
				// The difference modulo 2^32 is what a reader of an accumulator takes.
				if float64(nowShort-short) != now-before || nowLong < long || float64(nowLong-long) != now-before {
					t.Fatalf("%g Wh: %d after %d, %d after %d", wh, nowShort, short, nowLong, long)
				}
				short, long, before = nowShort, nowLong, now
			}
		})
	})

	It("a declared counter never goes back, whatever its type and scale, until it is full or wraps", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			kind := rapid.SampledFrom([]string{"uint16", "uint32", "uint64", "int32", "int64", "float32", "float64"}).Draw(t, "type")
			scale := rapid.SampledFrom([]string{"1 Wh", "0.1 kWh", "0.01 kWh", "10 Wh", "1 kWh", "3 Wh"}).Draw(t, "scale")
			m, err := registers.ParseMap("m", []byte("map: m\nsignals:\n  energy_imported: input 0 "+kind+" x "+scale+"\n"))
			if err != nil {
				t.Fatal(err)
			}
			im, d := registers.NewImage(m, registers.Options{}), m.Describe()
			wh, last := rapid.Float64Range(0, 1e7).Draw(t, "start"), math.Inf(-1)
			wrap := map[string]float64{"uint16": 65536, "uint32": 1 << 32}[kind]
			for _, step := range rapid.SliceOfN(rapid.Float64Range(0, 5000), 1, 30).Draw(t, "steps") {
				wh += step
				im.Refresh(snapshot(registers.EnergyImported, wh))
				_, value := decode(im, d, d.Points[0])
				if value < last {
					if wrap == 0 {
						t.Fatalf("%g after %g in %s x %s", value, last, kind, scale)
					}
					value += wrap * d.Points[0].Scale * math.Ceil((last-value)/(wrap*d.Points[0].Scale))
				}
				if value > wh+1e-6*wh && kind != "float32" {
					t.Fatalf("counts %g Wh of %g Wh", value, wh)
				}
				last = value
				if wrap != 0 {
					last = math.Mod(last, wrap*d.Points[0].Scale)
				}
			}
		})
	})
})
