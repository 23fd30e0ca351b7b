package scenarios

import (
	"github.com/goccy/go-yaml/ast"
)

// formatVersion is the version of the file format that this program reads.
const formatVersion = "1"

// checkVersion looks at a document's format line, which must be there.
func checkVersion(file string, root ast.Node) error {
	m := root.(*ast.MappingNode)
	for _, pair := range m.Values {
		if pair.Key.GetToken().Value != "format" {
			continue
		}
		if v, ok := scalar(pair.Value); !ok || v != formatVersion {
			found := describe(pair.Value)
			if ok {
				found = shown(v)
			}
			return fault(nodeSpot(file, "format", pair.Value), "format "+found, "format "+formatVersion, "this program reads no other version")
		}
		return nil
	}
	return fault(spot{file: file, line: 1, col: 1, path: "format"}, "no format", "format: "+formatVersion, "it is the first line of every file")
}
