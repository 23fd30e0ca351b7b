package scenarios

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// What a file may measure. A scenario is written by people and machines, and
// none comes near; beyond it lies only what would exhaust the parser.
const (
	maxFileBytes = 1 << 20
	maxNesting   = 32  // brackets within brackets
	maxIndent    = 200 // columns before a line's first word
	// The parser's time grows with the square of the keys of one mapping: 200,000 of
	// them took it 95 s.
	maxKeys = 4000
)

// scenarioOrSite is what most files are.
const scenarioOrSite = "a scenario or site file"

// readFile gives a file's bytes, or the one error about them, which says what the file was to be.
func readFile(path, kind string) ([]byte, error) {
	info, err := os.Stat(path)
	whole := spot{file: path}
	switch {
	case err != nil:
		return nil, fault(whole, "no file that can be read", kind, "")
	case info.IsDir():
		return nil, fault(whole, "a folder", "a file", "")
	case info.Size() > maxFileBytes:
		return nil, fault(whole, fmt.Sprintf("%d bytes", info.Size()), fmt.Sprintf("at most %d bytes (1 MiB)", maxFileBytes), "")
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fault(whole, "no file that can be read", kind, "")
	}
	return data, nil
}

// fault makes the error of a file with a single finding.
func fault(at spot, found, wanted, hint string) error {
	f := &findings{}
	f.add(at, found, wanted, hint)
	return f.err()
}

// parse makes YAML text into its one document. What the format does not use
// (aliases, tags, directives, several documents) is refused by name before the
// parser sees it, so that no short file can unfold into a large one.
func parse(file string, data []byte) (root ast.Node, err error) {
	whole := spot{file: file}
	if len(data) > maxFileBytes {
		return nil, fault(whole, fmt.Sprintf("%d bytes", len(data)), fmt.Sprintf("at most %d bytes (1 MiB)", maxFileBytes), "")
	}
	// The parser is a general-purpose library that faces open-ended input here; a
	// panic in it is a file that cannot be read, and not the end of the program.
	defer func() {
		if p := recover(); p != nil {
			root, err = nil, fault(whole, "text that the YAML parser cannot take", "YAML", "")
		}
	}()
	tokens := lexer.Tokenize(string(data))
	if err := checkTokens(file, tokens); err != nil {
		return nil, err
	}
	parsed, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		var syntax *yaml.SyntaxError
		if errors.As(err, &syntax) && syntax.Token != nil {
			return nil, fault(tokenSpot(file, syntax.Token), "broken YAML", "YAML", syntax.Message)
		}
		return nil, fault(whole, "broken YAML", "YAML", err.Error())
	}
	for _, doc := range parsed.Docs {
		if doc.Body == nil {
			continue
		}
		if root != nil {
			return nil, fault(tokenSpot(file, doc.Body.GetToken()), "a second document", "one document a file", "")
		}
		root = doc.Body
	}
	if root == nil {
		return nil, fault(whole, "an empty file", "a scenario or a site", "it begins with format: 1")
	}
	if _, ok := root.(*ast.MappingNode); !ok {
		return nil, fault(spot{file: file, line: 1, col: 1}, describe(root), "keys with values", "it begins with format: 1")
	}
	return root, nil
}

// checkTokens refuses what the format does not use and what is nested too deep.
func checkTokens(file string, tokens token.Tokens) error {
	depth, line := 0, 0
	var keys [maxIndent + 1]int // of the open mapping whose keys stand in this column
	for _, t := range tokens {
		at := tokenSpot(file, t)
		first := t.Position.Line != line
		line = t.Position.Line
		switch t.Type {
		case token.AnchorType:
			return fault(at, "an anchor", "each thing written out where it stands", "anchors and aliases are not read")
		case token.AliasType:
			return fault(at, "an alias", "each thing written out where it stands", "anchors and aliases are not read; put text that begins with * in quotes")
		case token.MergeKeyType:
			return fault(at, "a merge key", "each thing written out where it stands", "")
		case token.TagType:
			return fault(at, "a tag", "plain values", "put text that begins with ! in quotes")
		case token.DirectiveType:
			return fault(at, "a directive", "plain values", "put text that begins with % in quotes")
		case token.MappingKeyType:
			return fault(at, "a ? key", "key: value", "")
		case token.MappingStartType, token.SequenceStartType:
			depth++
		case token.MappingEndType, token.SequenceEndType:
			depth--
		case token.MappingValueType:
			if t.Prev == nil || depth > 0 {
				break
			}
			column := min(t.Prev.Position.Column, maxIndent)
			clear(keys[column+1:])
			if keys[column]++; keys[column] > maxKeys {
				return fault(at, "very many keys", fmt.Sprintf("at most %d on one level", maxKeys), "")
			}
		case token.SequenceEntryType:
			clear(keys[min(t.Position.Column, maxIndent)+1:])
		}
		if depth > maxNesting || (first || t.Type == token.SequenceEntryType) && depth == 0 && t.Position.Column > maxIndent {
			return fault(at, "very deep nesting", fmt.Sprintf("at most %d levels", maxNesting), "")
		}
	}
	return nil
}

func tokenSpot(file string, t *token.Token) spot {
	return spot{file: file, line: max(t.Position.Line, 1), col: max(t.Position.Column, 1)}
}

// nodeSpot gives where a value begins.
func nodeSpot(file, path string, n ast.Node) spot {
	t := n.GetToken()
	switch n := n.(type) {
	case *ast.MappingNode:
		if !n.IsFlowStyle && len(n.Values) > 0 {
			t = n.Values[0].Key.GetToken()
		}
	}
	at := tokenSpot(file, t)
	at.path = path
	return at
}

// scalar gives the text of a plain value; ok is false for anything else.
func scalar(n ast.Node) (text string, ok bool) {
	switch n := n.(type) {
	case *ast.StringNode:
		return n.Value, true
	case *ast.LiteralNode:
		return n.Value.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return n.GetToken().Value, true
	}
	return "", false
}

// describe says what a node is, for messages.
func describe(n ast.Node) string {
	switch n := n.(type) {
	case *ast.MappingNode:
		return "keys with values"
	case *ast.SequenceNode:
		return "a list"
	case *ast.NullNode:
		return "nothing"
	default:
		if text, ok := scalar(n); ok {
			return quoted(text)
		}
		return "something that is not read here"
	}
}

// asIs is how many columns after its node's place a text begins, if the file has it on one line and without escapes; else -1.
func asIs(n ast.Node, text string) int {
	t := n.GetToken()
	origin := strings.TrimSpace(t.Origin)
	switch {
	case origin == text:
		return 0
	case origin == "'"+text+"'", origin == `"`+text+`"`:
		return 1
	}
	return -1
}
