package registers

import (
	"errors"
	"fmt"
)

// What a read or write can be refused for. A Modbus server answers exception 02 for ErrIllegalAddress and
// exception 03 for ErrIllegalValue.
var (
	// ErrIllegalAddress: the map has no register there, or a point of several registers was written in part.
	ErrIllegalAddress = errors.New("illegal address")
	// ErrReadOnly is an ErrIllegalAddress too.
	ErrReadOnly = fmt.Errorf("%w: read-only register", ErrIllegalAddress)
	// ErrIllegalValue: the value is outside the point's range or not one of its words.
	ErrIllegalValue = errors.New("illegal value")
)

// MapError says what is wrong with a map file, where, and what would be right.
type MapError struct {
	File         string
	Line, Column int
	// Path is the place in the file's structure, such as "signals.charge_limit".
	Path string
	// Found is the offending text or fact, Want is what would be right.
	Found, Want string
	// Nearest is the known word that is closest to the one found; empty where none is close.
	Nearest string
}

func (e *MapError) Error() string {
	text := fmt.Sprintf("%s:%d:%d: ", e.File, e.Line, e.Column)
	if e.Path != "" {
		text += e.Path + ": "
	}
	text += e.Found
	if e.Want != "" {
		text += "; " + e.Want
	}
	if e.Nearest != "" {
		text += fmt.Sprintf("; did you mean %q?", e.Nearest)
	}
	return text
}
