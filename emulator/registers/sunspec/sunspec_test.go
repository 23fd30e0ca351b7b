package sunspec_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/registers/sunspec"
)

var _ = DescribeTable("Model lengths are those of the standard",
	// SS-13 and SS-20 to SS-27: sums of the point sizes in the SunSpec model definitions, recomputed.
	func(id uint16, counts map[string]uint16, length int) {
		m := sunspec.Find(id)
		Expect(m).NotTo(BeNil())
		Expect(m.Length(counts)).To(Equal(length))
	},
	Entry(nil, uint16(1), nil, 66),
	Entry(nil, uint16(101), nil, 50), Entry(nil, uint16(102), nil, 50), Entry(nil, uint16(103), nil, 50),
	Entry(nil, uint16(111), nil, 60), Entry(nil, uint16(112), nil, 60), Entry(nil, uint16(113), nil, 60),
	Entry(nil, uint16(120), nil, 26), Entry(nil, uint16(121), nil, 30), Entry(nil, uint16(122), nil, 44),
	Entry(nil, uint16(123), nil, 24), Entry(nil, uint16(124), nil, 24),
	Entry(nil, uint16(201), nil, 105), Entry(nil, uint16(202), nil, 105), Entry(nil, uint16(203), nil, 105), Entry(nil, uint16(204), nil, 105),
	Entry(nil, uint16(211), nil, 124), Entry(nil, uint16(212), nil, 124), Entry(nil, uint16(213), nil, 124), Entry(nil, uint16(214), nil, 124),
	Entry(nil, uint16(701), nil, 153), Entry(nil, uint16(702), nil, 50), Entry(nil, uint16(703), nil, 17),
	Entry(nil, uint16(704), nil, 65), Entry(nil, uint16(713), nil, 7),
	Entry(nil, uint16(705), map[string]uint16{"NCrv": 2, "NPt": 4}, 13+2*(10+2*4)),
	Entry(nil, uint16(706), map[string]uint16{"NCrv": 3, "NPt": 2}, 13+3*(5+2*2)),
	Entry(nil, uint16(711), map[string]uint16{"NCtl": 3}, 12+10*3),
	Entry(nil, uint16(714), map[string]uint16{"NPrt": 2}, 18+25*2),
	Entry(nil, uint16(803), map[string]uint16{"NStr": 4}, 26+32*4),
	Entry(nil, uint16(802), nil, 62),
)

var _ = DescribeTable("A point that is not there reads as its type says",
	// SS-04 to SS-11: pysunspec2 tests/test_mb.py and sunspec2/mb.py. SS-12: never 4EFF 8000 for a float32.
	func(t sunspec.Type, words ...uint16) {
		Expect(sunspec.Unimplemented(t, uint16(len(words)))).To(Equal(words))
	},
	Entry(nil, sunspec.Int16, uint16(0x8000)), Entry(nil, sunspec.Scale, uint16(0x8000)),
	Entry(nil, sunspec.Uint16, uint16(0xFFFF)), Entry(nil, sunspec.Enum16, uint16(0xFFFF)), Entry(nil, sunspec.Bitfield16, uint16(0xFFFF)),
	Entry(nil, sunspec.Int32, uint16(0x8000), uint16(0)),
	Entry(nil, sunspec.Uint32, uint16(0xFFFF), uint16(0xFFFF)), Entry(nil, sunspec.Enum32, uint16(0xFFFF), uint16(0xFFFF)),
	Entry(nil, sunspec.Bitfield32, uint16(0xFFFF), uint16(0xFFFF)),
	Entry(nil, sunspec.Int64, uint16(0x8000), uint16(0), uint16(0), uint16(0)),
	Entry(nil, sunspec.Uint64, uint16(0xFFFF), uint16(0xFFFF), uint16(0xFFFF), uint16(0xFFFF)),
	Entry(nil, sunspec.Acc16, uint16(0)), Entry(nil, sunspec.Acc32, uint16(0), uint16(0)),
	Entry(nil, sunspec.Acc64, uint16(0), uint16(0), uint16(0), uint16(0)),
	Entry(nil, sunspec.IPAddr, uint16(0), uint16(0)), Entry(nil, sunspec.Pad, uint16(0)),
	Entry(nil, sunspec.String, uint16(0), uint16(0)),
	Entry(nil, sunspec.EUI48, uint16(0), uint16(0xFFFF), uint16(0xFFFF), uint16(0xFFFF)),
	Entry(nil, sunspec.Float32, uint16(0x7FC0), uint16(0)),
	Entry(nil, sunspec.Float64, uint16(0x7FF8), uint16(0), uint16(0), uint16(0)),
)

// definition is the standard's JSON as this test reads it, apart from the generator.
type definition struct {
	ID    uint16         `json:"id"`
	Group map[string]any `json:"group"`
}

var _ = It("The tables agree with the standard's own definitions", func() {
	folder := os.Getenv("KILTER_SUNSPEC")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "..", "shared", "sunspec")
	}
	files, err := filepath.Glob(filepath.Join(folder, "model_*.json"))
	Expect(err).NotTo(HaveOccurred())
	if len(files) == 0 {
		Skip("the SunSpec model definitions are missing: name the folder of model_*.json in KILTER_SUNSPEC")
	}
	Expect(sunspec.IDs()).To(HaveLen(len(files)))
	for _, file := range files {
		data, err := os.ReadFile(file)
		Expect(err).NotTo(HaveOccurred())
		var d definition
		Expect(json.Unmarshal(data, &d)).To(Succeed())
		m := sunspec.Find(d.ID)
		Expect(m).NotTo(BeNil(), file)
		compare(&m.Group, d.Group, fmt.Sprint(d.ID))
	}
})

func compare(g *sunspec.Group, want map[string]any, path string) {
	GinkgoHelper()
	Expect(g.Name).To(Equal(want["name"]), path)
	if count, given := want["count"]; given {
		Expect(g.Count).To(Equal(count), path)
	}
	points := want["points"].([]any)
	Expect(g.Points).To(HaveLen(len(points)), path)
	offset := 0.0
	for i, p := range g.Points {
		w := points[i].(map[string]any)
		at := path + "." + p.Name
		text := func(key string) string { s, _ := w[key].(string); return s }
		Expect(p.Name).To(Equal(w["name"]), at)
		Expect(float64(p.Offset)).To(Equal(offset), at)
		Expect(string(p.Type)).To(Equal(w["type"]), at)
		Expect(float64(p.Size)).To(Equal(w["size"]), at)
		Expect(p.ScaleFactor).To(Equal(text("sf")), at)
		Expect(p.Unit).To(Equal(text("units")), at)
		Expect(p.Writable).To(Equal(text("access") == "RW"), at)
		Expect(p.Mandatory).To(Equal(text("mandatory") == "M"), at)
		symbols, _ := w["symbols"].([]any)
		Expect(p.Symbols).To(HaveLen(len(symbols)), at)
		for j, s := range p.Symbols {
			symbol := symbols[j].(map[string]any)
			Expect(s.Name).To(Equal(symbol["name"]), at)
			Expect(float64(s.Value)).To(Equal(symbol["value"]), at)
		}
		offset += w["size"].(float64)
	}
	groups, _ := want["groups"].([]any)
	Expect(g.Groups).To(HaveLen(len(groups)), path)
	for i := range g.Groups {
		compare(&g.Groups[i], groups[i].(map[string]any), path+"."+g.Groups[i].Name)
	}
}

var _ = DescribeTable("Points stand where the standard puts them",
	// SS-30 to SS-41: offsets from the model's id register, in the SunSpec model definitions.
	func(id uint16, offsets map[string]int) {
		for _, p := range sunspec.Find(id).Points {
			if want, listed := offsets[p.Name]; listed {
				Expect(int(p.Offset)).To(Equal(want), p.Name)
				delete(offsets, p.Name)
			}
		}
		Expect(offsets).To(BeEmpty(), "points that the model lacks")
	},
	Entry("SS-30", uint16(103), map[string]int{"A": 2, "PhVphA": 10, "W": 14, "W_SF": 15, "Hz": 16, "Hz_SF": 17, "VAr": 20, "WH": 24, "WH_SF": 26, "DCW": 31, "St": 38, "Evt1": 40}),
	Entry("SS-31", uint16(113), map[string]int{"A": 2, "PhVphA": 16, "W": 22, "Hz": 24, "WH": 32, "St": 48}),
	Entry("SS-32", uint16(203), map[string]int{"A": 2, "PhVphA": 8, "Hz": 16, "W": 18, "WphA": 19, "WphC": 21, "W_SF": 22, "TotWhExp": 38, "TotWhImp": 46, "TotWh_SF": 54, "Evt": 105}),
	Entry("SS-33", uint16(120), map[string]int{"WRtg": 3, "WHRtg": 19, "MaxChaRte": 23, "MaxDisChaRte": 25}),
	Entry("SS-34", uint16(121), map[string]int{"WMax": 2, "WGra": 12, "MaxRmpRte": 19}),
	Entry("SS-35", uint16(123), map[string]int{"Conn": 4, "WMaxLimPct": 5, "WMaxLimPct_WinTms": 6, "WMaxLimPct_RvrtTms": 7, "WMaxLimPct_RmpTms": 8, "WMaxLim_Ena": 9, "WMaxLimPct_SF": 23}),
	Entry("SS-36", uint16(124), map[string]int{"WChaMax": 2, "WChaGra": 3, "WDisChaGra": 4, "StorCtl_Mod": 5, "MinRsvPct": 7, "ChaState": 8, "ChaSt": 11, "OutWRte": 12, "InWRte": 13, "InOutWRte_RvrtTms": 15, "ChaGriSet": 17, "WChaMax_SF": 18, "InOutWRte_SF": 25}),
	Entry("SS-37", uint16(701), map[string]int{"InvSt": 4, "ConnSt": 5, "W": 10, "Var": 12, "Hz": 17, "TotWhInj": 19, "TotWhAbs": 23, "WL1": 41, "WL2": 64, "WL3": 87, "A_SF": 113, "Tmp_SF": 122}),
	Entry("SS-38", uint16(704), map[string]int{"WMaxLimPctEna": 14, "WMaxLimPct": 15, "WSetEna": 22, "WSetMod": 23, "WSet": 24, "WSetPct": 28, "WSetRvrtTms": 31, "WRmp": 49, "WSet_SF": 55, "WSetPct_SF": 56}),
	Entry("SS-39", uint16(713), map[string]int{"WHRtg": 2, "WHAvail": 3, "SoC": 4, "SoH": 5, "Sta": 6}),
	Entry("SS-40", uint16(802), map[string]int{"AHRtg": 2, "WHRtg": 3, "SoC": 11, "SoH": 13, "Hb": 18, "CtrlHb": 19, "State": 22, "V": 34, "A": 44, "W": 47}),
	Entry("SS-41", uint16(703), map[string]int{"ES": 2, "ESVHi": 3, "ESVLo": 4, "ESHzHi": 5, "ESHzLo": 7, "ESDlyTms": 9, "ESRmpTms": 13}),
)
