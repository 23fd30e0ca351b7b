package scenarios

import (
	"encoding/json"
	"regexp"
	"slices"
	"sort"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"github.com/goccy/go-yaml"
)

// conforms is a small judge of the parts of JSON Schema that the schema uses. It
// gives the first thing that does not conform, or nothing.
func conforms(root, s map[string]any, v any, path string) string {
	if ref, ok := s["$ref"].(string); ok {
		defs := root["$defs"].(map[string]any)
		return conforms(root, defs[ref[len("#/$defs/"):]].(map[string]any), v, path)
	}
	if options, ok := s["oneOf"].([]any); ok {
		fits := 0
		for _, o := range options {
			if conforms(root, o.(map[string]any), v, path) == "" {
				fits++
			}
		}
		if fits != 1 {
			return path + ": not exactly one form"
		}
		return ""
	}
	switch s["type"] {
	case "string":
		text, ok := v.(string)
		if !ok {
			return path + ": no text"
		}
		if p, ok := s["pattern"].(string); ok && !regexp.MustCompile(p).MatchString(text) {
			return path + ": " + text + " does not match " + p
		}
		if words, ok := s["enum"].([]any); ok && !slices.Contains(words, any(text)) {
			return path + ": " + text + " is not among the words"
		}
	case "integer", "number":
		switch v.(type) {
		case uint64, int64, float64:
		default:
			return path + ": no number"
		}
	case "array":
		list, ok := v.([]any)
		if !ok {
			return path + ": no list"
		}
		for _, one := range list {
			if wrong := conforms(root, s["items"].(map[string]any), one, path+"[]"); wrong != "" {
				return wrong
			}
		}
	case "object":
		return conformsObject(root, s, v, path)
	default:
		return path + ": a schema without a type"
	}
	return ""
}

func conformsObject(root, s map[string]any, v any, path string) string {
	m, ok := v.(map[string]any)
	if !ok {
		return path + ": no keys"
	}
	props, _ := s["properties"].(map[string]any)
	required, _ := s["required"].([]any)
	for _, r := range required {
		if _, there := m[r.(string)]; !there {
			return path + ": no " + r.(string)
		}
	}
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		inner, known := props[k].(map[string]any)
		if !known {
			if inner, known = s["additionalProperties"].(map[string]any); !known {
				return path + ": unknown " + k
			}
		}
		if wrong := conforms(root, inner, m[k], path+"."+k); wrong != "" {
			return wrong
		}
	}
	return ""
}

// judge holds a file's text against the schema as an editor does.
func judge(text []byte) string {
	GinkgoHelper()
	var root map[string]any
	Expect(json.Unmarshal(Schema(), &root)).To(Succeed())
	var v map[string]any
	Expect(yaml.Unmarshal(text, &v)).To(Succeed())
	which := "else"
	if _, isScenario := v["scenario"]; isScenario {
		which = "then"
	}
	return conforms(root, root[which].(map[string]any), v, "")
}

var _ = Describe("the schema", func() {
	It("is the same each time", func() {
		Expect(string(Schema())).To(Equal(string(Schema())))
	})

	It("accepts every built-in file and what is resolved from it", func() {
		for _, name := range BuiltinSites() {
			Expect(judge(builtinText(builtinSiteFile(name)))).To(BeEmpty(), name)
		}
		for _, name := range BuiltinNames() {
			Expect(judge(builtinText(builtinMark+"stories/"+name+".yaml"))).To(BeEmpty(), name)
			s, err := Builtin(name)
			Expect(err).NotTo(HaveOccurred())
			text, err := s.Resolve()
			Expect(err).NotTo(HaveOccurred())
			Expect(judge(text)).To(BeEmpty(), name)
		}
	})

	DescribeTable("refuses what the reader refuses",
		func(line string) { Expect(judge([]byte(shortHead + line + "\n"))).NotTo(BeEmpty()) },
		Entry("unknown key", "duration: 5 min"),
		Entry("missing unit", "must: {import: {below: 18}}"),
		Entry("wrong unit", "must: {import: {below: 18 kWh}}"),
		Entry("unknown criterion", "must: {imports: {below: 18 kW}}"),
		Entry("an unknown word", "happens: [{at: 1 min, oven: {switch: maybe}}]"),
		Entry("an event without time", "happens: [{oven: {switch: on}}]"),
	)

	It("explains each key", func() {
		var root map[string]any
		Expect(json.Unmarshal(Schema(), &root)).To(Succeed())
		for name, def := range root["$defs"].(map[string]any) {
			props, _ := def.(map[string]any)["properties"].(map[string]any)
			for key, p := range props {
				Expect(p.(map[string]any)["description"]).NotTo(BeEmpty(), name+"."+key)
			}
		}
	})
})
