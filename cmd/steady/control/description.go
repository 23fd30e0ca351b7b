package control

import (
	"encoding/json"
	"fmt"
	"sort"
	"strconv"
	"strings"
)

// registerSet is a device's registers in the bench file: an object by signal,
// or the description of a map with its points in a list.
type registerSet []register

// pointEntry is one register as it stands in the file. Both forms share it;
// where they have two words for one thing, either will do.
type pointEntry struct {
	Name         string          `json:"name"`
	Signal       string          `json:"signal"`
	Table        string          `json:"table"`
	Address      uint16          `json:"address"`
	Type         string          `json:"type"`
	Words        json.RawMessage `json:"words"` // the order of words, or the words of an enumeration
	WordOrder    string          `json:"word_order"`
	ByteOrder    string          `json:"byte_order"`
	Scale        *float64        `json:"scale"`
	Offset       float64         `json:"offset"`
	Unit         string          `json:"unit"`
	Sign         float64         `json:"sign"`
	OneWay       bool            `json:"one_way"`
	Unknown      string          `json:"unknown"`
	Writable     bool            `json:"writable"`
	Access       string          `json:"access"`
	Lo           *float64        `json:"lo"`
	Hi           *float64        `json:"hi"`
	Min          *float64        `json:"min"`
	Max          *float64        `json:"max"`
	LastsS       float64         `json:"lasts_s"`
	TimerAddress *uint16         `json:"timer_address"`
	Needs        *need           `json:"needs"`
}

func (s *registerSet) UnmarshalJSON(data []byte) error {
	var list struct {
		WordOrder string       `json:"word_order"`
		ByteOrder string       `json:"byte_order"`
		Points    []pointEntry `json:"points"`
	}
	if err := json.Unmarshal(data, &list); err == nil && list.Points != nil {
		for _, p := range list.Points {
			if p.WordOrder == "" {
				p.WordOrder = list.WordOrder
			}
			if p.ByteOrder == "" {
				p.ByteOrder = list.ByteOrder
			}
			if p.Signal == "" {
				p.Signal, _, _ = strings.Cut(p.Name, "/")
			}
			r, err := p.register()
			if err != nil {
				return fmt.Errorf("%s: %w", p.Name, err)
			}
			*s = append(*s, r)
		}
		return nil
	}
	byName := map[string]pointEntry{}
	if err := json.Unmarshal(data, &byName); err != nil {
		return err
	}
	names := make([]string, 0, len(byName))
	for name := range byName {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		p := byName[name]
		if p.Signal == "" {
			p.Signal, _, _ = strings.Cut(name, "/")
		}
		r, err := p.register()
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		*s = append(*s, r)
	}
	return nil
}

// register resolves an entry: defaults, units and orders.
func (p pointEntry) register() (register, error) {
	r := register{signal: p.Signal, table: p.Table, address: p.Address, kind: p.Type, offset: p.Offset,
		scale: 1, sign: 1, oneWay: p.OneWay, lo: p.Lo, hi: p.Hi, lastsS: p.LastsS, timer: p.TimerAddress,
		needs: p.Needs, writable: p.Writable || strings.Contains(p.Access, "write")}
	if p.Scale != nil {
		r.scale = *p.Scale
	}
	if p.Sign < 0 {
		r.sign = -1
	}
	if r.lo == nil {
		r.lo = p.Min
	}
	if r.hi == nil {
		r.hi = p.Max
	}
	if err := p.order(&r); err != nil {
		return r, err
	}
	if p.Unknown != "" {
		raw, err := strconv.ParseUint(p.Unknown, 0, 64)
		if err != nil {
			return r, fmt.Errorf("unknown is %q: must be a number such as 0x8000", p.Unknown)
		}
		r.unknown = &raw
	}
	unit := 1.0
	switch p.Unit {
	case "kW", "kWh":
		unit = 1000
	case "%":
		unit = 0.01
	}
	r.scale *= unit
	r.offset *= unit
	for _, bound := range []**float64{&r.lo, &r.hi} {
		if *bound != nil {
			inside := **bound * unit
			*bound = &inside
		}
	}
	return r, nil
}

// order reads how words and bytes follow each other, and the enumeration that
// may stand in the same place.
func (p pointEntry) order(r *register) error {
	wordOrder := p.WordOrder
	switch {
	case len(p.Words) == 0 || string(p.Words) == "null":
	case p.Words[0] == '"':
		if err := json.Unmarshal(p.Words, &wordOrder); err != nil {
			return err
		}
	default:
		if err := json.Unmarshal(p.Words, &r.words); err != nil {
			return fmt.Errorf("words must be an order such as \"low first\", or a list of raw, word and value: %w", err)
		}
	}
	r.lowWord = strings.HasPrefix(wordOrder, "low")
	r.lowByte = strings.HasPrefix(p.ByteOrder, "low")
	return nil
}
