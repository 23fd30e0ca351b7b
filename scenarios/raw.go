package scenarios

import (
	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
)

// raw is a part of a file that is read later, when the parameters in its words have values: text, yaml.MapSlice or []any of such.
type raw struct {
	at  spot
	v   any
	set bool
}

// raw takes a node as it is written. What it says is looked at when a scenario is made of it.
func (r *reader) raw(n ast.Node, at spot) raw {
	return raw{at, r.unread(n, at), true}
}

func (r *reader) unread(n ast.Node, at spot) any {
	switch n := n.(type) {
	case *ast.MappingNode:
		var list yaml.MapSlice
		r.once(n, at, "key", func(name string, n ast.Node, at spot) {
			list = append(list, yaml.MapItem{Key: name, Value: r.unread(n, at)})
		})
		return list
	case *ast.SequenceNode:
		list := []any{}
		for _, one := range n.Values {
			list = append(list, r.unread(one, at))
		}
		return list
	}
	s, _ := r.scalarOf(n, nodeSpot(r.file, at.path, n), "a value as a scenario has it")
	return s
}
