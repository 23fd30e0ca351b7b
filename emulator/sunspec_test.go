package emulator_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	independent "github.com/simonvetter/modbus"

	"kilter/emulator"
)

// definitions is the folder of the standard's own JSON model definitions (github.com/sunspec/models,
// Apache-2.0): KILTER_SUNSPEC, or beside the project.
func definitions() string {
	for _, dir := range []string{os.Getenv("KILTER_SUNSPEC"), "../../shared/sunspec"} {
		if _, err := os.Stat(filepath.Join(dir, "model_103.json")); dir != "" && err == nil {
			return dir
		}
	}
	Skip("the standard's JSON model definitions are missing: set KILTER_SUNSPEC to their folder")
	return ""
}

// definition is what the decoder takes from a model's JSON file.
type definition struct {
	Group struct {
		Points []struct {
			Name, Type string
			Size       int
			SF         json.RawMessage
		}
	}
}

// decode reads a SunSpec chain with an independent client, and decodes it by nothing but the
// standard's JSON definitions. Keys are model.point; not-implemented values are left out.
func decode(address string, unit byte, base uint16) map[string]float64 {
	GinkgoHelper()
	dir := definitions()
	c, err := independent.NewClient(&independent.ClientConfiguration{URL: "tcp://" + address, Timeout: 10 * time.Second})
	Expect(err).NotTo(HaveOccurred())
	Expect(c.SetUnitId(unit)).To(Succeed())
	Expect(c.Open()).To(Succeed())
	defer c.Close()
	read := func(at uint16, n uint16) []uint16 {
		GinkgoHelper()
		var all []uint16
		for n > 0 {
			part, err := c.ReadRegisters(at, min(n, 125), independent.HOLDING_REGISTER)
			Expect(err).NotTo(HaveOccurred())
			all, at, n = append(all, part...), at+min(n, 125), n-min(n, 125)
		}
		return all
	}
	Expect(read(base, 2)).To(Equal([]uint16{0x5375, 0x6E53}), "the marker SunS (SS-01)")
	values := map[string]float64{}
	for at := base + 2; ; {
		head := read(at, 2)
		if head[0] == 0xFFFF {
			Expect(head[1]).To(BeZero(), "the end model has length 0 (SS-03)")
			return values
		}
		model, length := head[0], head[1]
		text, err := os.ReadFile(filepath.Join(dir, fmt.Sprintf("model_%d.json", model)))
		Expect(err).NotTo(HaveOccurred())
		var def definition
		Expect(json.Unmarshal(text, &def)).To(Succeed())
		raw := read(at, length+2)
		numbers, sf := map[string]float64{}, map[string]string{}
		offset := 0
		for _, p := range def.Group.Points {
			if offset+p.Size > len(raw) {
				break
			}
			if v, ok := number(p.Type, raw[offset:offset+p.Size]); ok {
				numbers[p.Name] = v
				sf[p.Name] = strings.Trim(string(p.SF), `"`)
			}
			offset += p.Size
		}
		for name, v := range numbers {
			scale := 0.0
			if s := sf[name]; s != "" {
				if fixed, err := strconv.Atoi(s); err == nil {
					scale = float64(fixed)
				} else {
					scale = numbers[s]
				}
			}
			values[fmt.Sprintf("%d.%s", model, name)] = v * math.Pow(10, scale)
		}
		at += 2 + length
	}
}

// number decodes one point; false for text and for not-implemented values (SS-04 to SS-11).
func number(kind string, r []uint16) (float64, bool) {
	u := uint64(0)
	for _, w := range r {
		u = u<<16 | uint64(w)
	}
	switch kind {
	case "int16", "sunssf":
		return float64(int16(u)), u != 0x8000
	case "int32":
		return float64(int32(u)), u != 0x8000_0000
	case "uint16", "enum16", "bitfield16", "pad":
		return float64(u), u != 0xFFFF
	case "uint32", "enum32", "bitfield32":
		return float64(u), u != 0xFFFF_FFFF
	case "acc32", "acc64":
		return float64(u), true
	case "uint64":
		return float64(u), u != math.MaxUint64
	}
	return 0, false
}

var _ = Describe("a SunSpec chain read by an independent client", func() {
	It("says of an inverter what the plant says, with sign and scale right", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		moved := 0.0
		for range 20 {
			Expect(c.wait(10_000)).To(BeTrue())
			d := called(b, "north")
			got := decode(d.Address, d.Unit, uint16(d.Base))
			v := &b.Plant().Inverters[0]
			moved = math.Max(moved, math.Abs(v.PowerW))
			Expect(got["103.W"]).To(BeNumerically("~", -v.PowerW, 1), "generating is positive on the wire, and negative inside")
			Expect(got["103.Hz"]).To(BeNumerically("~", 50, 0.01))
			Expect(got["103.PhVphA"]).To(BeNumerically("~", b.Plant().VoltageV(1), 0.1))
			Expect(got["120.WRtg"]).To(BeNumerically("~", 5000, 1))
			Expect(got["124.ChaState"]).To(BeNumerically("~", 100*v.Battery.SOC, 0.1))
			Expect(got["124.WChaMax"]).To(BeNumerically("~", 5000, 1))
			Expect(got).To(HaveKey("123.WMaxLimPct"))
			Expect(got["713.SoC"]).To(BeNumerically("~", 100*v.Battery.SOC, 0.1))
		}
		Expect(moved).To(BeNumerically(">", 500), "else sign and scale were not tested")
	})

	It("says of a meter what the meter reads, import positive", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		moved := 0.0
		for n := range 30 {
			Expect(c.wait(11_000)).To(BeTrue())
			d := called(b, "grid_meter")
			got := decode(d.Address, d.Unit, uint16(d.Base))
			m := &b.Plant().Meters[0]
			moved = math.Max(moved, math.Abs(m.ReadingW))
			Expect(got["203.W"]).To(BeNumerically("~", m.ReadingW, 5.01), "poll %d", n)
			Expect(got["203.TotWhImp"]).To(BeNumerically("~", m.ImportedWh(), 1))
		}
		Expect(moved).To(BeNumerically(">", 20))
	})

	It("takes the storage limits of model 124, and shows them at once", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		Expect(c.wait(1000)).To(BeTrue())
		d := called(b, "north")
		// SS-28 and SS-36: 124 stands at 40254 from base 40000; StorCtl_Mod is its point 5, OutWRte 12, InWRte 13.
		const model124 = 40254
		l := c.link(d.Address, d.Unit)
		head, err := l.ReadHoldingRegisters(model124, 1)
		Expect(err).NotTo(HaveOccurred())
		Expect(head).To(Equal([]byte{0, 124}))
		before := decode(d.Address, d.Unit, uint16(d.Base))
		scale := math.Pow(10, before["124.InOutWRte_SF"])
		quarter := uint16(math.Round(25 / scale))
		_, err = l.WriteSingleRegister(model124+13, quarter)
		Expect(err).NotTo(HaveOccurred())
		_, err = l.WriteSingleRegister(model124+5, 1)
		Expect(err).NotTo(HaveOccurred())
		after := decode(d.Address, d.Unit, uint16(d.Base))
		Expect(after["124.InWRte"]).To(BeNumerically("~", 25, 0.01))
		Expect(after["124.StorCtl_Mod"]).To(Equal(1.0))
		Expect(b.Plant().Inverters[0].ChargeLimitW()).To(Equal(5000.0), "the plant acts at the next tick")
		Expect(c.wait(100)).To(BeTrue())
		Expect(b.Plant().Inverters[0].ChargeLimitW()).To(BeNumerically("~", 1250, 0.1))
	})

	It("is read by mbpoll as it is read by us", func() {
		program, err := exec.LookPath("mbpoll")
		if err != nil {
			Skip("mbpoll is missing: Debian's package mbpoll brings it")
		}
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		Expect(connect(b).wait(30_000)).To(BeTrue())
		d := called(b, "north")
		host, port, _ := strings.Cut(d.Address, ":")
		// -0: addresses from 0; -t 4: holding registers. 103.W stands at 40070 + 14.
		out, err := exec.Command(program, "-0", "-1", "-q", "-m", "tcp", "-p", port, "-a", fmt.Sprint(d.Unit),
			"-t", "4", "-r", "40000", "-c", "2", host).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), "%s", out)
		Expect(string(out)).To(ContainSubstring("[40000]: \t21365"))
		Expect(string(out)).To(ContainSubstring("[40001]: \t28243"))
		out, err = exec.Command(program, "-0", "-1", "-q", "-m", "tcp", "-p", port, "-a", fmt.Sprint(d.Unit),
			"-t", "4", "-r", "40084", "-c", "1", host).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), "%s", out)
		raw := decode(d.Address, d.Unit, uint16(d.Base))
		Expect(strings.Fields(string(out))).To(ContainElement(fmt.Sprint(uint16(int16(math.Round(raw["103.W"] / math.Pow(10, raw["103.W_SF"])))))))
	})
})
