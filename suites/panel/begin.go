package panel

import (
	"fmt"
	"strings"

	"kilter/emulator/registers"
	"kilter/suites/verdict"
)

// begin is all that a new viewer needs; what it had before is put aside.
type begin struct {
	Columns   []column    `json:"columns"`
	States    []state     `json:"states"`
	Now       now         `json:"now"`
	History   [][]float64 `json:"history"`
	Criteria  []margin    `json:"criteria"`
	JudgedS   float64     `json:"judged"` // as of when the criteria stand so
	Timeline  timeline    `json:"timeline"`
	Traffic   []frame     `json:"traffic"`
	Registers []register  `json:"registers"`
	LastsS    float64     `json:"lasts"`
}

func (p *Panel) begin() any {
	p.catchUp() // where nobody looked on, nobody was told
	b := begin{Timeline: p.timeline(), Traffic: p.traffic.all(), Registers: p.registers(map[string]string{}), LastsS: p.options.Scenario.Lasts.Seconds()}
	p.mutex.Lock()
	defer p.mutex.Unlock()
	b.Columns, b.States, b.Now = p.columns, p.states, p.now
	b.Now.Values, b.Now.Words = append([]float64{}, p.now.Values...), append([]string{}, p.now.Words...)
	b.History = make([][]float64, len(p.history))
	for i, row := range p.history {
		b.History[i] = append([]float64{}, row...)
	}
	b.Criteria, b.JudgedS = marginsOf(p.findings), p.judgedS
	return b
}

// margin is how a criterion stands.
type margin struct {
	Name     string  `json:"name"`
	Status   string  `json:"status"`
	Words    string  `json:"words"`
	Observed string  `json:"observed"`
	Limit    string  `json:"limit"`
	Margin   string  `json:"margin"`
	Share    float64 `json:"share"` // of the limit, -1 to 1
	Detail   string  `json:"detail"`
}

func marginsOf(findings []verdict.Criterion) []margin {
	list := []margin{}
	for _, c := range findings {
		m := margin{Name: c.Title(), Status: string(c.Status), Words: c.Status.Words(), Detail: c.Detail, Observed: "–", Limit: "–", Margin: "–"}
		if c.Limit.Known() {
			m.Limit = c.LimitText()
		}
		if c.Observed.Known() {
			m.Observed = verdict.QuantityBeside(c.Observed, c.Limit, c.Unit)
		}
		if v, known := c.Margin.Value(); known {
			m.Margin = strings.Replace(verdict.Quantity(c.Margin, c.Unit), "-", "−", 1)
			if v > 0 {
				m.Margin = "+" + m.Margin
			}
			if limit, _ := c.Limit.Value(); limit != 0 {
				m.Share = max(-1, min(1, v/max(limit, -limit)))
			}
		}
		list = append(list, m)
	}
	return list
}

// register is what one point of a device shows.
type register struct {
	Device  string `json:"device"`
	Point   string `json:"point"`
	Where   string `json:"where"`
	Raw     string `json:"raw"`
	Value   string `json:"value"`
	Writes  bool   `json:"writes,omitempty"`
	Changed bool   `json:"changed,omitempty"`
}

// registers are the points that show something else than what was shown, which it then keeps.
func (p *Panel) registers(shown map[string]string) []register {
	changed := []register{}
	first := len(shown) == 0
	var room []registers.Reading
	for _, d := range p.bench.File().Devices {
		room = p.bench.Registers(d.Name, room[:0])
		for _, r := range room {
			x := register{Device: d.Name, Point: r.Name, Where: fmt.Sprintf("%s %d", r.Table, r.Address), Writes: r.Writable,
				Raw: fmt.Sprintf("0x%0*X", 4*r.Type.Registers(), r.Raw), Value: valueOf(r)}
			key := x.Device + "\x00" + x.Where
			if shown[key] == x.Raw {
				continue
			}
			shown[key] = x.Raw
			x.Changed = !first
			changed = append(changed, x)
		}
	}
	return changed
}

func valueOf(r registers.Reading) string {
	switch {
	case !r.Known:
		return "not known"
	case r.Word != "":
		return r.Word
	case r.Signal.IsFraction():
		return fmt.Sprintf("%.4g %%", 100*r.Value)
	}
	return strings.TrimSpace(fmt.Sprintf("%.7g %s", r.Value, r.Signal.Unit()))
}
