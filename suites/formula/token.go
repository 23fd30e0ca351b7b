package formula

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

type tokenKind uint8

const (
	end tokenKind = iota
	word
	number
	sign // an operator or a bracket
)

type token struct {
	kind   tokenKind
	text   string
	value  float64 // of a number
	column int     // in characters, from 1
}

// shown is the token as a message quotes it.
func (t token) shown() string {
	if t.kind == end {
		return "the end"
	}
	return strconv.Quote(t.text)
}

// Error is what is wrong with a formula, and where.
type Error struct {
	Column        int // in characters, from 1
	Found, Wanted string
	// Word, if not empty, is one that is not known, and Known are those that could stand in its place.
	Word  string
	Known []string
}

func wrong(column int, found, wanted string) *Error {
	return &Error{Column: column, Found: found, Wanted: wanted}
}

// unknown says that a word is none of those that could stand in its place.
func unknown(t token, wanted string, known []string) *Error {
	e := wrong(t.column, t.shown(), wanted)
	if t.kind == word {
		e.Word, e.Known = t.text, known
	}
	return e
}

func (e *Error) Error() string {
	return fmt.Sprintf("column %d: found %s, wanted %s", e.Column, e.Found, e.Wanted)
}

// longest is the length of a formula in bytes that is read; deepest how deep it may be nested.
const (
	longest = 4096
	deepest = 100
)

// signs are the operators that are no words, the longer ones first.
var signs = []string{"<=", ">=", "..", "<", ">", "+", "-", "*", "/", "(", ")", "%"}

// scan takes a formula apart. A name with a hyphen in it is one word.
func scan(src string, hyphened []string) ([]token, error) {
	if len(src) > longest {
		return nil, wrong(1, fmt.Sprintf("%d bytes", len(src)), fmt.Sprintf("at most %d", longest))
	}
	var list []token
	column := 1
	for rest := src; rest != ""; {
		r, size := utf8.DecodeRuneInString(rest)
		t := token{column: column}
		switch {
		case unicode.IsSpace(r):
			rest, column = rest[size:], column+1
			continue
		case r >= '0' && r <= '9':
			t.kind, t.text = number, rest[:numberLength(rest)]
			v, err := strconv.ParseFloat(t.text, 64)
			if err != nil {
				return nil, wrong(column, t.shown(), "a number")
			}
			t.value = v
		case unicode.IsLetter(r) || r == '_':
			t.kind, t.text = word, rest[:wordLength(rest, hyphened)]
		default:
			t.kind = sign
			for _, s := range signs {
				if strings.HasPrefix(rest, s) {
					t.text = s
					break
				}
			}
			if t.text == "" {
				return nil, wrong(column, strconv.Quote(string(r)), "a word, a number or one of "+strings.Join(signs, " "))
			}
		}
		rest = rest[len(t.text):]
		column += utf8.RuneCountInString(t.text)
		list = append(list, t)
	}
	return append(list, token{kind: end, column: column}), nil
}

// numberLength is how many bytes a decimal number takes; the dots of LO..HI are none of it.
func numberLength(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	if n+1 < len(s) && s[n] == '.' && s[n+1] >= '0' && s[n+1] <= '9' {
		for n++; n < len(s) && s[n] >= '0' && s[n] <= '9'; n++ {
		}
	}
	return n
}

// wordLength is how many bytes a word takes: letters, digits, underscores, and single dots within, as in north.soc; or a
// whole name with hyphens, if it is one of those given.
func wordLength(s string, hyphened []string) int {
	longest := 0
	for _, name := range hyphened {
		if after, is := strings.CutPrefix(s, name); is && len(name) > longest && !isWordRune(after) {
			longest = len(name)
		}
	}
	n := 0
	for n < len(s) {
		r, size := utf8.DecodeRuneInString(s[n:])
		dot := r == '.' && n+1 < len(s) && isWordRune(s[n+1:])
		if !dot && !isWordRune(s[n:]) {
			break
		}
		n += size
	}
	return max(n, longest)
}

func isWordRune(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_'
}
