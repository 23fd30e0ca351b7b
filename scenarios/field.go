package scenarios

import (
	"reflect"
	"strings"
)

// The values of which file types are made. Each knows where it stands, so that
// what is found wrong later can still be shown at its line.
type (
	// quantity is a number with a unit; its field's tags name the dimension (dim),
	// the range (in) and the value where none is written (or).
	quantity struct {
		at  spot
		v   float64
		set bool
	}
	// span is two quantities of one dimension, written "40 % to 80 %".
	span struct {
		at        spot
		low, high float64
		set       bool
	}
	// whole is a whole number, with tags in and or.
	whole struct {
		at  spot
		v   uint64
		set bool
	}
	// text is a word or more; the tag words closes the list of what it may be, and
	// the tag form says what kind of text it is: "name", "verb" for a word that is looked
	// at when its device is known, or free where absent.
	text struct {
		at  spot
		s   string
		set bool
		// asIs is how many columns after at it begins, where it stands in the file just as it is; else -1.
		asIs int
	}
	// list is a sequence.
	list[T any] []T
	// entries are the pairs of a mapping whose keys are chosen by the author, in the
	// order of the file.
	entries[T any] []entry[T]
	entry[T any]   struct {
		At    spot
		Name  string
		Value T
	}
)

// field is what the tags of one field of a file type say.
type field struct {
	index    int
	key      string // "=" for the scalar form of a mapping, "[]" for its list form, "*" for all other keys
	doc      string
	required bool
	dim      *dimension
	in       string
	or       string
	words    []string
	form     string
}

// isForm says whether the field is another form of the whole mapping.
func (f field) isForm() bool { return f.key == "=" || f.key == "[]" }

var (
	quantityType = reflect.TypeFor[quantity]()
	spanType     = reflect.TypeFor[span]()
	wholeType    = reflect.TypeFor[whole]()
	textType     = reflect.TypeFor[text]()
	rawType      = reflect.TypeFor[raw]()
	spotType     = reflect.TypeFor[spot]()
)

// fieldsOf reads the tags of a file type.
func fieldsOf(t reflect.Type) []field {
	var fields []field
	for i := range t.NumField() {
		tag := t.Field(i).Tag
		key, ok := tag.Lookup("key")
		if !ok {
			continue
		}
		f := field{
			index: i, key: key, doc: tag.Get("doc"), required: tag.Get("must") == "yes",
			dim: dimensions[tag.Get("dim")], in: tag.Get("in"), or: tag.Get("or"), form: tag.Get("form"),
		}
		if w := tag.Get("words"); w != "" {
			f.words = strings.Split(w, "|")
		}
		fields = append(fields, f)
	}
	return fields
}

// isEntries tells a list of entries from a plain list.
func isEntries(t reflect.Type) bool {
	return t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct && t.Elem().NumField() == 3 &&
		t.Elem().Field(0).Type == spotType && t.Elem().Field(1).Name == "Name"
}

// isName says whether a word can name a device, meter, feeder or site.
func isName(s string) bool {
	if s == "" || len(s) > 40 || s[0] < 'a' || s[0] > 'z' {
		return false
	}
	for _, c := range []byte(s) {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '_' && c != '-' {
			return false
		}
	}
	return true
}

const nameWanted = "a name of lower-case letters, digits, - and _ that begins with a letter"
