package fieldlog

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"
	"unicode/utf16"

	"github.com/parquet-go/parquet-go"

	"kilter/physics"
)

// sound is the log that each file in testdata/logs is made of: two minutes of a site on the bench, at which a kettle is switched while a
// cloud passes.
type sound struct {
	at                              []time.Time
	grid, north, south, pv, northSO []float64
}

func soundLog() sound {
	site := physics.Site{
		StepMS: 100, Seed: 5, Phases: 1,
		Supply:  physics.Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders: []physics.Feeder{{Name: "supply", Parent: -1}},
		Loads: []physics.LoadParams{
			{Name: "kettle", Kind: physics.ProfileLoad, On: true, Profile: steps(400, 11_000, 2300, 47_000, 300, 62_000, 1900, 95_000, 500)},
			{Name: "roof", Kind: physics.ProfileLoad, On: true, Profile: []physics.ProfilePoint{
				{AtMS: 0, PowerW: -1500}, {AtMS: 25_000, PowerW: -1500}, {AtMS: 31_000, PowerW: -400}, {AtMS: 74_000, PowerW: -450}, {AtMS: 80_000, PowerW: -1700},
			}},
		},
	}
	for i, name := range []string{"north", "south"} {
		site.Meters = append(site.Meters, physics.MeterParams{Name: name + "_ct", RefreshS: 1, OffsetW: float64(10 - 20*i)})
		site.Inverters = append(site.Inverters, physics.InverterParams{
			Name: name, RatingW: 3600, Efficiency: 0.96, DeadTimeS: 0.4, LagS: 0.6, RampUpWps: 700 - 300*float64(i), RampDownWps: 700 - 300*float64(i),
			Battery: physics.BatteryParams{
				CapacityWh: 60, ChargeEfficiency: 0.97, DischargeEfficiency: 0.97, MaxChargeW: 3600, MaxDischargeW: 3600, InitialSOC: 0.4, TaperAboveSOC: 1,
			},
			Loop: physics.LoopParams{Meter: i, Gain: 0.25, PeriodS: 1, PhaseS: 0.5 * float64(i)},
		})
	}
	p, err := physics.New(site)
	if err != nil {
		panic(err)
	}
	var s sound
	start := time.Date(2026, 6, 18, 14, 0, 0, 0, time.UTC)
	for n := range 120 {
		s.at = append(s.at, start.Add(time.Duration(n)*time.Second))
		s.grid = append(s.grid, math.Round(p.GridW))
		s.north = append(s.north, math.Round(p.Inverters[0].PowerW))
		s.south = append(s.south, math.Round(p.Inverters[1].PowerW))
		s.pv = append(s.pv, math.Round(-p.Loads[1].PowerW))
		s.northSO = append(s.northSO, math.Round(p.Inverters[0].Battery.SOC*1000)/10)
		for range 10 {
			p.Step()
		}
	}
	return s
}

func steps(w float64, pairs ...float64) []physics.ProfilePoint {
	list := []physics.ProfilePoint{{AtMS: 0, PowerW: w}}
	for i := 0; i < len(pairs); i += 2 {
		list = append(list, physics.ProfilePoint{AtMS: int64(pairs[i]), PowerW: w})
		w = pairs[i+1]
		list = append(list, physics.ProfilePoint{AtMS: int64(pairs[i]) + 1, PowerW: w})
	}
	return list
}

const header = "time,grid [W],north battery [W],south battery [W],pv [W],north soc [%]"

// sheet is a log as lines of cells, to be spoilt.
type sheet struct {
	header string
	rows   [][]string
}

func (s sound) sheet() *sheet {
	out := &sheet{header: header}
	for n, at := range s.at {
		out.rows = append(out.rows, []string{at.Format("2006-01-02 15:04:05"), num(s.grid[n]), num(s.north[n]), num(s.south[n]), num(s.pv[n]), num(s.northSO[n])})
	}
	return out
}

func num(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

func (t *sheet) each(change func(n int, row []string) []string) *sheet {
	out := t.rows[:0:0]
	for n, row := range t.rows {
		if row = change(n, row); row != nil {
			out = append(out, row)
		}
	}
	t.rows = out
	return t
}

func (t *sheet) scaled(column int, by float64, decimals int) *sheet {
	return t.each(func(_ int, row []string) []string {
		var v float64
		_, _ = fmt.Sscan(row[column], &v)
		row[column] = fmt.Sprintf("%.*f", decimals, v*by)
		return row
	})
}

func (t *sheet) text(delimiter string) []byte {
	var b strings.Builder
	b.WriteString(strings.ReplaceAll(t.header, ",", delimiter) + "\n")
	for _, row := range t.rows {
		b.WriteString(strings.Join(row, delimiter) + "\n")
	}
	return []byte(b.String())
}

// defects makes each file of testdata/logs.
func defects() map[string][]byte {
	s := soundLog()
	fresh := s.sheet
	comma := func(t *sheet) []byte { return t.text(",") }
	stamped := func(layout string, at func(n int) time.Time) *sheet {
		return fresh().each(func(n int, row []string) []string { row[0] = at(n).Format(layout); return row })
	}
	plain := func(n int) time.Time { return s.at[n] }
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		panic(err)
	}
	// Both changes of a clock fall into the middle of the log.
	autumn := func(n int) time.Time {
		return time.Date(2026, 10, 25, 0, 59, 0, 0, time.UTC).Add(time.Duration(n) * time.Second).In(oslo)
	}
	spring := func(n int) time.Time {
		return time.Date(2026, 3, 29, 0, 59, 0, 0, time.UTC).Add(time.Duration(n) * time.Second).In(oslo)
	}
	renamed := func(t *sheet, header string) *sheet { t.header = header; return t }
	chance := rand.New(rand.NewPCG(3, 4))
	files := map[string][]byte{
		"clean.csv":              comma(fresh()),
		"dst-autumn.csv":         comma(stamped("2006-01-02 15:04:05", autumn)),
		"dst-autumn-zoned.csv":   comma(stamped("2006-01-02 15:04:05", autumn)),
		"dst-spring-zoned.csv":   comma(stamped("2006-01-02 15:04:05", spring)),
		"zone-in-time.csv":       comma(stamped("2006-01-02T15:04:05Z07:00", autumn)),
		"decimal-comma.csv":      []byte(strings.ReplaceAll(string(fresh().scaled(1, 1, 1).scaled(2, 1, 1).text(";")), ".", ",")),
		"day-first.csv":          stamped("02.01.2006 15:04:05", plain).text(";"),
		"either-way-round.csv":   comma(stamped("02/01/2006 15:04:05", func(n int) time.Time { return time.Date(2026, 6, 5, 14, 0, n, 0, time.UTC) })),
		"kw.csv":                 comma(renamed(fresh().scaled(1, 0.001, 3).scaled(2, 0.001, 3), "time,grid [kW],north battery [kW],south battery [W],pv [W],north soc [%]")),
		"kw-unsaid.csv":          comma(renamed(fresh().scaled(1, 0.001, 3).scaled(2, 0.001, 3).scaled(3, 0.001, 3).scaled(4, 0.001, 3), "time,grid,north battery,south battery,pv,north soc")),
		"kw-said-w.csv":          comma(fresh().scaled(2, 0.001, 3)),
		"reversed-grid.csv":      comma(fresh().scaled(1, -1, 0)),
		"reversed-inverter.csv":  comma(fresh().scaled(3, -1, 0)),
		"wrong-sign-in-map.csv":  comma(fresh().scaled(3, -1, 0)),
		"nameless.csv":           comma(renamed(fresh(), "time,p1 [W],p2 [W],p3 [W],pv [W],north soc [%]")),
		"one-phase-of-three.csv": comma(fresh().scaled(1, 1.0/3, 0)),
		"epoch-ms.csv": comma(fresh().each(func(n int, row []string) []string {
			row[0] = fmt.Sprint(s.at[n].UnixMilli())
			return row
		})),
		"spreadsheet-days.csv": comma(fresh().each(func(n int, row []string) []string {
			row[0] = fmt.Sprintf("%.8f", float64(s.at[n].Unix())/86400+25569)
			return row
		})),
		"elapsed.csv": comma(fresh().each(func(n int, row []string) []string { row[0] = fmt.Sprint(n); return row })),
		"clock-alone.csv": comma(fresh().each(func(n int, row []string) []string {
			row[0] = s.at[n].Add(9*time.Hour + 59*time.Minute).Format("15:04:05")
			return row
		})),
		"nan.csv": comma(fresh().each(func(n int, row []string) []string {
			if n%17 == 3 {
				row[2], row[3] = "NaN", "null"
			}
			return row
		})),
		"tenth-missing.csv": comma(fresh().each(func(n int, row []string) []string {
			for k := 1; k < 4; k++ {
				if chance.IntN(10) == 0 {
					row[k] = ""
				}
			}
			return row
		})),
		"gap.csv": comma(fresh().each(func(n int, row []string) []string {
			if n >= 50 && n < 75 {
				return nil
			}
			return row
		})),
		"duplicate-rows.csv": func() []byte {
			t := fresh()
			for n := 20; n < 30; n++ {
				t.rows = append(t.rows[:n*2-20+1], t.rows[n*2-20:]...)
			}
			return comma(t)
		}(),
		"out-of-order.csv": func() []byte {
			t := fresh()
			t.rows[40], t.rows[44] = t.rows[44], t.rows[40]
			t.rows[80], t.rows[81] = t.rows[81], t.rows[80]
			return comma(t)
		}(),
		"irregular.csv": comma(fresh().each(func(n int, row []string) []string {
			if n%7 == 2 {
				return nil
			}
			row[0] = s.at[n].Format("2006-01-02 15:04:05.000")
			return row
		})),
		"different-rates.csv": comma(fresh().each(func(n int, row []string) []string {
			if n%2 != 0 {
				row[3] = ""
			}
			if n%30 != 0 {
				row[5] = ""
			}
			return row
		})),
		"bom.csv":         append([]byte("\xef\xbb\xbf"), comma(fresh())...),
		"utf16.csv":       wide(string(comma(fresh()))),
		"truncated.csv":   comma(fresh())[:len(comma(fresh()))-9],
		"crlf.csv":        bytes.ReplaceAll(comma(fresh()), []byte("\n"), []byte("\r\n")),
		"preamble.csv":    append([]byte("Logger export\nsite;bakery\n\n"), fresh().text(";")...),
		"units-below.csv": []byte(strings.Replace(string(comma(renamed(fresh(), "time,grid,north battery,south battery,pv,north soc"))), "\n", "\n,W,W,W,W,%\n", 1)),
		"quoted.csv":      comma(fresh().each(func(_ int, row []string) []string { row[1] = `"` + row[1] + `"`; return row })),
		"tabs.csv":        fresh().text("\t"),
		"junk-cells.csv": comma(fresh().each(func(n int, row []string) []string {
			if n == 33 || n == 71 {
				row[2] = "#FEHLER"
			}
			return row
		})),
		"odd-rows.csv": comma(fresh().each(func(n int, row []string) []string {
			if n == 60 {
				return row[:4]
			}
			return row
		})),
		"many-odd-rows.csv": comma(fresh().each(func(n int, row []string) []string {
			if n%3 == 1 {
				return row[:4]
			}
			return row
		})),
		"coarse-values.csv": comma(fresh().each(func(n int, row []string) []string {
			for k := 1; k < 4; k++ {
				var v float64
				_, _ = fmt.Sscan(row[k], &v)
				row[k] = num(math.Round(v/50) * 50)
			}
			return row
		})),
		"clock-7s-late.csv": comma(fresh().each(func(n int, row []string) []string {
			row[2] = num(s.north[max(n-7, 0)])
			return row
		})),
		"three-phases.csv": comma(renamed(fresh().each(func(n int, row []string) []string {
			g := s.grid[n]
			return append([]string{row[0], num(math.Round(g * 0.5)), num(math.Round(g * 0.3)), num(g - math.Round(g*0.5) - math.Round(g*0.3))}, row[2:]...)
		}), "time,grid L1 [W],grid L2 [W],grid L3 [W],north battery [W],south battery [W],pv [W],north soc [%]")),
		"counters.csv":      comma(counters(s, -1)),
		"counter-reset.csv": comma(counters(s, 70)),
		"saturated.csv":     comma(fresh().each(func(n int, row []string) []string { row[3] = num(max(s.south[n], -300)); return row })),
		"five-minutes.csv":  comma(stamped("2006-01-02 15:04", func(n int) time.Time { return s.at[0].Add(time.Duration(n) * 5 * time.Minute) })),
		"no-header.csv":     comma(fresh())[len(header)+1:],
		"header-alone.csv":  []byte(header + "\n"),
		"one-column.csv":    []byte("grid\n12\n15\n17\n"),
		"empty.csv":         {},
		"no-grid.csv":       comma(renamed(fresh().each(func(_ int, row []string) []string { return []string{row[0], row[4], row[5]} }), "time,pv [W],north soc [%]")),
		"no-time.csv":       comma(renamed(fresh().each(func(_ int, row []string) []string { return row[1:] }), header[5:])),
		"far-date.csv": comma(fresh().each(func(n int, row []string) []string {
			if n == 119 {
				row[0] = "2099-01-01 00:00:00"
			}
			return row
		})),
		"binary.csv":     []byte("PK\x03\x04\x00\x00\x00\x08 not a table"),
		"clean.parquet":  inParquet(s),
		"broken.parquet": inParquet(s)[:400],
	}
	return files
}

func wide(text string) []byte {
	out := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(text)) {
		out = binary.LittleEndian.AppendUint16(out, u)
	}
	return out
}

// counters turns the grid flow into an import and an export counter in Wh, which begin anew at a row.
func counters(s sound, reset int) *sheet {
	in, out := 5210.0, 880.0
	n := -1
	t := s.sheet()
	t.header = "time,grid import [Wh],grid export [Wh],north battery [W],south battery [W],pv [W],north soc [%]"
	return t.each(func(_ int, row []string) []string {
		n++
		if n == reset {
			in, out = 0, 0
		}
		in += max(s.grid[n], 0) / 3600
		out += max(-s.grid[n], 0) / 3600
		return append([]string{row[0], fmt.Sprintf("%.3f", in), fmt.Sprintf("%.3f", out)}, row[2:]...)
	})
}

func inParquet(s sound) []byte {
	type row struct {
		Time  time.Time `parquet:"time,timestamp(millisecond)"`
		Grid  float64   `parquet:"grid_w"`
		North float64   `parquet:"north_battery_w"`
		South *float64  `parquet:"south_battery_w,optional"`
		PV    float64   `parquet:"pv_w"`
	}
	var rows []row
	for n, at := range s.at {
		r := row{at, s.grid[n], s.north[n], &s.south[n], s.pv[n]}
		if n == 30 {
			r.South = nil
		}
		rows = append(rows, r)
	}
	var b bytes.Buffer
	w := parquet.NewGenericWriter[row](&b, parquet.CreatedBy("kilter", "1", ""))
	if _, err := w.Write(rows); err != nil {
		panic(err)
	}
	if err := w.Close(); err != nil {
		panic(err)
	}
	return b.Bytes()
}
