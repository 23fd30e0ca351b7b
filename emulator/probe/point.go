package probe

import (
	"fmt"
	"strings"
)

// Point is one value that was read.
type Point struct {
	Name string `json:"name"`
	// Table is where it stands; holding registers for SunSpec.
	Table     string `json:"table,omitempty"`
	Address   uint16 `json:"address"`
	Registers uint16 `json:"registers"`
	Type      string `json:"type"`
	// Value is a number or a text; nil where the device has or knows none.
	Value any `json:"value"`
	// Words are the name of an enumeration's value, or of the bits that are set.
	Words []string `json:"words,omitempty"`
	Unit  string   `json:"unit,omitempty"`
	// Raw is the registers' content.
	Raw string `json:"raw,omitempty"`
	// Remark says what is odd.
	Remark string `json:"remark,omitempty"`
	// text is the value in print, without the unit.
	text string
	// plumbing points serve others: lengths, scale factors and pads, which a table leaves out.
	plumbing bool
}

// Text is the value with its unit in print.
func (p Point) Text() string {
	switch {
	case p.Value == nil && p.Remark != "":
		return "(" + p.Remark + ")"
	case p.Value == nil:
		return "not known"
	}
	text := p.text
	if p.Unit != "" && len(p.Words) == 0 {
		text += " " + p.Unit
	}
	if p.Remark != "" {
		text += " (" + p.Remark + ")"
	}
	return text
}

// hex writes registers as one number, the first register first.
func hex(words []uint16) string {
	var b strings.Builder
	b.WriteString("0x")
	for _, w := range words {
		fmt.Fprintf(&b, "%04X", w)
	}
	return b.String()
}

// texts is what registers hold as characters, the first in the high byte, up to the first NUL and without the
// blanks that some devices fill up with.
func texts(words []uint16) string {
	var b []byte
	for _, w := range words {
		b = append(b, byte(w>>8), byte(w))
	}
	text, _, _ := strings.Cut(string(b), "\x00")
	return printable([]byte(strings.TrimRight(text, " ")))
}
