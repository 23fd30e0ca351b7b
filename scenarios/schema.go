package scenarios

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// Schema gives the JSON Schema of both kinds of file, for editors that complete
// and check while one writes. It is made from the same tags that the reader
// follows, and by hand: a schema library sees Go types, while here one type
// (quantity) means a power in one field and a time in the next, which only the
// tag beside it says.
func Schema() []byte {
	s := &schemaMaker{defs: map[string]any{}}
	site, scenario := s.ref(reflect.TypeFor[siteFile]()), s.ref(reflect.TypeFor[scenarioFile]())
	for _, name := range []string{"siteFile", "scenarioFile"} {
		def := s.defs[schemaName(name)].(map[string]any)
		required, _ := def["required"].([]string)
		def["required"] = append([]string{"format"}, required...)
	}
	out, err := json.MarshalIndent(map[string]any{
		"$schema": "https://json-schema.org/draft/2020-12/schema",
		"title":   "kilter site or scenario, format 1",
		"if":      map[string]any{"required": []string{"scenario"}},
		"then":    scenario,
		"else":    site,
		"$defs":   s.defs,
	}, "", "  ")
	if err != nil {
		panic(err) // only maps, lists and text are in it
	}
	return append(out, '\n')
}

type schemaMaker struct{ defs map[string]any }

// schemaName is the name of a file type without what only Go needs.
func schemaName(goName string) string { return strings.TrimSuffix(goName, "File") }

// ref gives a reference to a file type's definition, and makes it the first
// time.
func (s *schemaMaker) ref(t reflect.Type) map[string]any {
	name := schemaName(t.Name())
	if _, made := s.defs[name]; !made {
		s.defs[name] = nil // a feeder has feeders
		s.defs[name] = s.object(t)
	}
	return map[string]any{"$ref": "#/$defs/" + name}
}

func (s *schemaMaker) object(t reflect.Type) map[string]any {
	props := map[string]any{}
	var required []string
	def := map[string]any{"type": "object", "properties": props, "additionalProperties": false}
	var forms []any
	for _, f := range fieldsOf(t) {
		v := s.value(t.Field(f.index).Type, f)
		v["description"] = strings.TrimSpace(f.doc + orWords(f))
		switch f.key {
		case "=", "[]":
			forms = append(forms, v)
		case "*":
			def["additionalProperties"] = v["additionalProperties"]
		default:
			props[f.key] = v
			if f.required {
				required = append(required, f.key)
			}
		}
	}
	if required != nil {
		def["required"] = required
	}
	if forms == nil {
		return def
	}
	if hasKeys(fieldsOf(t)) {
		forms = append(forms, def)
	}
	return map[string]any{"oneOf": forms}
}

func orWords(f field) string {
	if f.or == "" {
		return ""
	}
	return " (" + f.or + " where absent)"
}

func (s *schemaMaker) value(t reflect.Type, f field) map[string]any {
	switch {
	case t == quantityType && f.dim == dimensions["number"]:
		return map[string]any{"type": "number"}
	case t == quantityType:
		return map[string]any{"type": "string", "pattern": "^" + quantityPattern(f.dim) + "$"}
	case t == spanType:
		one := quantityPattern(f.dim)
		return map[string]any{"type": "string", "pattern": "^" + one + "( to " + one + ")?$"}
	case t == wholeType:
		v := map[string]any{"type": "integer", "minimum": 0}
		if low, high, ok := wholeLimit(f.in); ok {
			v["minimum"], v["maximum"] = low, high
		}
		return v
	case t == textType && f.words != nil:
		return map[string]any{"type": "string", "enum": slices.Clone(f.words)}
	case t == textType && f.form == "name":
		return map[string]any{"type": "string", "pattern": "^[a-z][a-z0-9_-]*$"}
	case t == textType:
		return map[string]any{"type": "string"}
	case t.Kind() == reflect.Pointer:
		return s.ref(t.Elem())
	case isEntries(t):
		value, _ := t.Elem().FieldByName("Value")
		return map[string]any{"type": "object", "additionalProperties": s.value(value.Type, field{form: "name"})}
	case t.Kind() == reflect.Slice:
		return map[string]any{"type": "array", "items": s.value(t.Elem(), field{words: f.words, form: f.form, dim: f.dim})}
	case t.Kind() == reflect.Struct:
		return s.ref(t)
	}
	panic(fmt.Sprintf("scenarios: no schema for a %s", t))
}

// quantityPattern is the form of a quantity as a regular expression.
func quantityPattern(d *dimension) string {
	names := make([]string, len(d.units))
	for i, u := range d.units {
		names[i] = strings.NewReplacer("/", "\\/").Replace(u.name)
	}
	return `[-+]?[0-9]*\.?[0-9]+([eE][-+]?[0-9]+)? ?(` + strings.Join(names, "|") + `)`
}
