package scenarios

import (
	"errors"
	"fmt"
	"strings"

	"kilter/suites/formula"
)

// Formula is a sentence of temporal logic that must hold. Package formula says how one is written, and Signals what it
// may speak of.
type Formula struct {
	Name     string
	Sentence string // on one line
}

// Signal is a quantity that a formula may speak of.
type Signal struct {
	formula.Signal
	Shows  SignalKind
	Device Device // the zero Device for a quantity of the whole site
	Line   int    // the conductor of a supply current, from 0
}

// SignalKind says what a signal shows.
type SignalKind uint8

// The kinds of signal. Powers are those into a device from the site.
const (
	GridFlow      SignalKind = iota // at the inlet, import positive [W]
	NetLoad                         // what all but the inverters draw [W]
	SupplyAmps                      // the current of one conductor of the supply [A], never negative
	DevicePower                     // of an inverter, an array, a load or a charger [W]
	StateOfCharge                   // of an inverter's battery, 0..1
	ToldCharge                      // what the inverter tells of it, 0..1
	MeterReading                    // what a meter tells last [W]
	MeterTruth                      // what flows where a meter stands [W]
)

// netLoadName is the name of what all but the inverters draw.
const netLoadName = "net_load"

// Signals are the quantities that a formula may speak of on this site: those of the whole site, and then those of each
// device in the site's order.
func (s *Site) Signals() []Signal {
	signal := func(name string, unit formula.Unit, shows SignalKind, d Device) Signal {
		return Signal{Signal: formula.Signal{Name: name, Unit: unit}, Shows: shows, Device: d}
	}
	list := []Signal{
		signal("grid", formula.Watt, GridFlow, Device{}),
		signal(netLoadName, formula.Watt, NetLoad, Device{}),
	}
	for line := range s.Plant.Phases {
		one := signal(fmt.Sprintf("%s.l%d", SupplyName, line+1), formula.Ampere, SupplyAmps, Device{})
		one.Line = line
		list = append(list, one)
	}
	for _, d := range s.Devices {
		switch d.Kind {
		case Inverter:
			list = append(list, signal(d.Name, formula.Watt, DevicePower, d),
				signal(d.Name+".soc", formula.Number, StateOfCharge, d), signal(d.Name+".told_soc", formula.Number, ToldCharge, d))
		case Meter:
			list = append(list, signal(d.Name, formula.Watt, MeterReading, d), signal(d.Name+".true", formula.Watt, MeterTruth, d))
		case Array, Load, Charger:
			list = append(list, signal(d.Name, formula.Watt, DevicePower, d))
		}
	}
	return list
}

// ParseFormula reads a sentence about a site's signals. The places of what it reads are those in Signals.
func (s *Site) ParseFormula(sentence string) (*formula.Formula, error) {
	signals := s.Signals()
	names := make([]formula.Signal, len(signals))
	for i := range signals {
		names[i] = signals[i].Signal
	}
	return formula.Parse(sentence, names)
}

// brackets that stood alone on a line need no room.
var brackets = strings.NewReplacer("( ", "(", " )", ")")

// formulas reads the sentences that must hold, and refuses what could not be judged on this site and in these steps.
func (b *mustBuilder) formulas(f entries[formulaFile]) []Formula {
	var list []Formula
	for _, one := range f {
		t := one.Value.Sentence
		x := Formula{Name: one.Name, Sentence: brackets.Replace(strings.Join(strings.Fields(t.s), " "))}
		if t.asIs >= 0 {
			x.Sentence = t.s // its columns are the file's
		}
		got, err := b.site.ParseFormula(x.Sentence)
		if err == nil {
			err = got.Check(b.step)
		}
		if err != nil {
			b.wrongFormula(t, one.At, err)
		}
		list = append(list, x)
	}
	return list
}

// wrongFormula says where in the file a sentence is wrong.
func (b *mustBuilder) wrongFormula(t text, at spot, err error) {
	var e *formula.Error
	if !errors.As(err, &e) {
		b.add(at, "a sentence that cannot be read", "one that can", err.Error())
		return
	}
	wanted, hint := e.Wanted, ""
	if e.Known != nil {
		wanted, hint = unknownWord(e.Word, e.Known)
	}
	place := t.at
	place.path = at.path
	if t.asIs >= 0 {
		place.col += t.asIs + e.Column - 1
	} else {
		hint = strings.TrimSuffix(fmt.Sprintf("at character %d of the sentence: %s", e.Column, hint), ": ")
	}
	b.add(place, e.Found, wanted, hint)
}

// formulasFileOf shows sentences in the words of the file.
func formulasFileOf(formulas []Formula) entries[formulaFile] {
	var list entries[formulaFile]
	for _, f := range formulas {
		list = append(list, entry[formulaFile]{Name: f.Name, Value: formulaFile{Sentence: words(f.Sentence)}})
	}
	return list
}
