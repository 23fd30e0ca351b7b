package report

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"math"
	"sync"
	"time"

	"github.com/klauspost/compress/flate"
)

// record is the run as the page's script reads it, to show values under the pointer and to draw a
// closer look with more detail than the pixels of the whole hold. Figures are integers of a quantum,
// each told by its difference from the one before, deflated.
type record struct {
	StepS   float64        `json:"step"`
	Rows    int            `json:"rows"`
	Columns []recordColumn `json:"columns"`
	Lanes   []recordColumn `json:"lanes"`
	States  []StateLane    `json:"states"`
	// Clock is the local time at the start as seconds since 1970 on the local clock itself, and nil
	// where none is known. Turns are the times at which that clock is put forward or back, and by how much.
	Clock *int64       `json:"clock"`
	Turns [][2]float64 `json:"turns"`
}

// recordColumn holds the first value of each row, and the extremes within it as distances from that
// where they differ. A lane has the number of writes in each row besides.
type recordColumn struct {
	Label   string   `json:"label"`
	Unit    string   `json:"unit"`
	Quantum float64  `json:"quantum"`
	Words   []string `json:"words,omitempty"` // what the values stand for, where they are words
	Values  string   `json:"values"`
	Below   string   `json:"below,omitempty"`
	Above   string   `json:"above,omitempty"`
	Writes  string   `json:"writes,omitempty"`
}

// recordBudget is what the record may add to a page, in bytes: with the plots themselves a day of
// two inverters then stays under 3 MB.
const recordBudget = 1600 << 10

// newRecord keeps every row where the budget allows, and else the finest multiple that it allows,
// with the extremes between.
func newRecord(s Series) *record {
	if s.rows() < 2 {
		return nil
	}
	for stride := 1; ; stride *= 2 {
		r, size := recordOf(s, stride)
		if size <= recordBudget || s.rows()/stride < 1000 {
			return r
		}
	}
}

func recordOf(s Series, stride int) (*record, int) {
	r := &record{StepS: s.StepS * float64(stride), Rows: (s.rows() + stride - 1) / stride, States: s.States}
	size := 0
	r.Columns = make([]recordColumn, len(s.Columns))
	var packing sync.WaitGroup
	for i, c := range s.Columns {
		packing.Go(func() { r.Columns[i] = newRecordColumn(c, stride) })
	}
	packing.Wait()
	for _, x := range r.Columns {
		size += len(x.Values) + len(x.Below) + len(x.Above)
	}
	for _, l := range lanesOf(s.Marks, 0, s.endS()) {
		x := l.record(r.StepS, r.Rows)
		size += len(x.Values) + len(x.Writes)
		r.Lanes = append(r.Lanes, x)
	}
	r.setClock(s)
	return r, size
}

func newRecordColumn(c Column, stride int) recordColumn {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, values := range [][]float64{c.Values, c.Min, c.Max} {
		for _, v := range values {
			if plottable(v) {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	x := recordColumn{Label: c.Label, Unit: c.Unit, Quantum: quantum(lo, hi)}
	rows := (len(c.Values) + stride - 1) / stride
	values, below, above := make([]int, 0, rows), make([]int, 0, rows), make([]int, 0, rows)
	apart := false
	for i := 0; i < len(c.Values); i += stride {
		v := whole(c.Values[i], x.Quantum)
		low, high := v, v
		for j := i; j < min(i+stride, len(c.Values)); j++ {
			for _, extreme := range [][]float64{c.Values, c.Min, c.Max} {
				if extreme != nil && plottable(extreme[j]) && v != gap {
					e := whole(extreme[j], x.Quantum)
					low, high = min(low, e), max(high, e)
				}
			}
		}
		apart = apart || low != high
		values, below, above = append(values, v), append(below, v-low), append(above, high-v)
	}
	x.Values = packed(values)
	if apart {
		x.Below, x.Above = packed(below), packed(above)
	}
	return x
}

// record lays a lane's commands on the rows: what was held at the beginning of each, and how often it
// was written within it.
func (l lane) record(stepS float64, rows int) recordColumn {
	x := recordColumn{Label: l.name, Quantum: 1}
	number := map[string]int{}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, c := range l.commands {
		if !l.words() && plottable(c.Value) {
			lo, hi = math.Min(lo, c.Value), math.Max(hi, c.Value)
		}
	}
	if !l.words() {
		x.Unit, x.Quantum = l.commands[0].Unit, quantum(lo, hi)
	}
	values, writes := make([]int, rows), make([]int, rows)
	held, next := gap, 0
	for row := range rows {
		for ; next < len(l.commands) && l.commands[next].AtS < (float64(row)+0.5)*stepS; next++ {
			c := l.commands[next]
			if writes[row]++; !l.words() {
				held = whole(c.Value, x.Quantum)
				continue
			}
			word := c.valueText()
			i, known := number[word]
			if !known {
				i = len(x.Words)
				number[word] = i
				x.Words = append(x.Words, word)
			}
			held = i
		}
		values[row] = held
	}
	x.Values, x.Writes = packed(values), packed(writes)
	return x
}

// setClock tells the script how local time goes.
func (r *record) setClock(s Series) {
	if s.StartLocal.IsZero() {
		return
	}
	local := func(t time.Time) int64 {
		_, offset := t.Zone()
		return t.Unix() + int64(offset)
	}
	start := local(s.StartLocal)
	r.Clock = &start
	_, before := s.StartLocal.Zone()
	for at := s.StartLocal; len(r.Turns) < 4; {
		_, end := at.ZoneBounds()
		since := end.Sub(s.StartLocal).Seconds()
		if end.IsZero() || since > s.endS() {
			return
		}
		_, after := end.Zone()
		r.Turns = append(r.Turns, [2]float64{since, float64(after - before)})
		before, at = after, end
	}
}

// gap stands for a figure that was not recorded.
const gap = -1 << 30

// quantum is a power of ten that tells at least 4000 levels apart.
func quantum(lo, hi float64) float64 {
	if !(hi > lo) {
		return 1e-3
	}
	return math.Pow(10, math.Max(-9, math.Floor(math.Log10((hi-lo)/4000))))
}

func whole(v, quantum float64) int {
	n := math.Round(v / quantum)
	if !plottable(v) || math.Abs(n) >= -gap {
		return gap
	}
	return int(n)
}

// packed is the differences as varints, deflated, in base64.
func packed(values []int) string {
	var text bytes.Buffer
	squeeze, err := flate.NewWriter(&text, flate.DefaultCompression)
	if err != nil {
		panic(err) // only a wrong level makes one
	}
	var room [binary.MaxVarintLen64]byte
	last := 0
	for _, v := range values {
		squeeze.Write(room[:binary.PutVarint(room[:], int64(v-last))])
		last = v
	}
	squeeze.Close()
	return base64.StdEncoding.EncodeToString(text.Bytes())
}
