package emulator_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	independent "github.com/simonvetter/modbus"
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

// defined is what the reader takes from a group of a model's JSON file.
type defined struct {
	Name   string
	Count  json.RawMessage
	Points []struct {
		Name, Type string
		Size       int
		SF         json.RawMessage
	}
	Groups []defined
}

// definition reads the standard's file of one model.
func definition(model uint16) defined {
	GinkgoHelper()
	text, err := os.ReadFile(filepath.Join(definitions(), fmt.Sprintf("model_%d.json", model)))
	Expect(err).NotTo(HaveOccurred())
	var file struct{ Group defined }
	Expect(json.Unmarshal(text, &file)).To(Succeed())
	return file.Group
}

// read is a chain as an independent client and the standard's files tell it.
type read struct {
	// values are by model.point, such as 103.W or 705.Crv[1].Pt[2].V; not-implemented values are left out.
	values map[string]float64
	// steps are what one unit of each point's register stands for.
	steps map[string]float64
	// raw and kinds have every point.
	raw   map[string][]uint16
	kinds map[string]string
	// models and starts are in the chain's order, the end model among them.
	models []uint16
	starts []int
}

// decode reads a SunSpec chain, and returns its values alone.
func decode(address string, unit byte, base uint16) map[string]float64 {
	GinkgoHelper()
	return readChain(address, unit, base).values
}

// readChain reads a SunSpec chain with an independent client, and decodes it by nothing but the standard's JSON
// definitions. It fails unless each model's length is what its definition adds up to.
func readChain(address string, unit byte, base uint16) *read {
	GinkgoHelper()
	definitions()
	c, err := independent.NewClient(&independent.ClientConfiguration{URL: "tcp://" + address, Timeout: 10 * time.Second})
	Expect(err).NotTo(HaveOccurred())
	Expect(c.SetUnitId(unit)).To(Succeed())
	Expect(c.Open()).To(Succeed())
	defer c.Close()
	fetch := func(at uint16, n uint16) []uint16 {
		GinkgoHelper()
		var all []uint16
		for n > 0 {
			part, err := c.ReadRegisters(at, min(n, 125), independent.HOLDING_REGISTER)
			Expect(err).NotTo(HaveOccurred())
			all, at, n = append(all, part...), at+min(n, 125), n-min(n, 125)
		}
		return all
	}
	Expect(fetch(base, 2)).To(Equal([]uint16{0x5375, 0x6E53}), "the marker SunS (SS-01)")
	r := &read{values: map[string]float64{}, steps: map[string]float64{}, raw: map[string][]uint16{}, kinds: map[string]string{}}
	for at := base + 2; ; {
		head := fetch(at, 2)
		r.models, r.starts = append(r.models, head[0]), append(r.starts, int(at))
		if head[0] == 0xFFFF {
			Expect(head[1]).To(BeZero(), "the end model has length 0 (SS-03)")
			return r
		}
		def := definition(head[0])
		words := fetch(at, head[1]+2)
		top := map[string]float64{}
		rest := r.group(&def, strconv.Itoa(int(head[0])), words, top)
		Expect(rest).To(BeEmpty(), "model %d is as long as its definition (SS-20 to SS-27)", head[0])
		at += 2 + head[1]
	}
}

// group decodes one repetition of a group and those inside it, and returns the registers behind. Scale factors and
// counts are found among the model's own points.
func (r *read) group(def *defined, path string, words []uint16, top map[string]float64) []uint16 {
	GinkgoHelper()
	own := map[string]float64{}
	sf := map[string]string{}
	for _, p := range def.Points {
		Expect(len(words)).To(BeNumerically(">=", p.Size), "%s.%s", path, p.Name)
		name := path + "." + p.Name
		r.raw[name], r.kinds[name] = words[:p.Size], p.Type
		if v, ok := number(p.Type, words[:p.Size]); ok {
			own[p.Name], sf[p.Name] = v, strings.Trim(string(p.SF), `"`)
		}
		words = words[p.Size:]
	}
	if len(top) == 0 {
		for name, v := range own {
			top[name] = v
		}
	}
	for name, v := range own {
		scale := 0.0
		if s := sf[name]; s != "" {
			if fixed, err := strconv.Atoi(s); err == nil {
				scale = float64(fixed)
			} else {
				scale = top[s]
			}
		}
		r.steps[path+"."+name] = math.Pow(10, scale)
		if r.kinds[path+"."+name] == "float32" {
			r.steps[path+"."+name] = math.Max(1, math.Abs(v)) * 0x1p-22 // 24 bits of mantissa
		}
		r.values[path+"."+name] = v * math.Pow(10, scale)
	}
	for i := range def.Groups {
		sub := &def.Groups[i]
		if len(sub.Count) == 0 {
			words = r.group(sub, path+"."+sub.Name, words, top)
			continue
		}
		for n := range int(top[strings.Trim(string(sub.Count), `"`)]) {
			words = r.group(sub, fmt.Sprintf("%s.%s[%d]", path, sub.Name, n+1), words, top)
		}
	}
	return words
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
	case "float32":
		x := float64(math.Float32frombits(uint32(u)))
		return x, !math.IsNaN(x)
	case "uint64":
		return float64(u), u != math.MaxUint64
	}
	return 0, false
}
