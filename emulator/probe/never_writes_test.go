package probe_test

import (
	"context"
	"go/parser"
	"go/token"
	"os"
	"reflect"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/probe"
	"kilter/emulator/registers"
)

var _ = Describe("probe never writes:", func() {
	It("what knows the device has no method but those that read", func() {
		var names []string
		for _, t := range []reflect.Type{reflect.TypeFor[probe.Reader](), reflect.TypeFor[*probe.Link]()} {
			for i := range t.NumMethod() {
				names = append(names, t.Method(i).Name)
			}
		}
		// Ask and Patience are there for the tests alone.
		Expect(names).To(ConsistOf("Read", "Identify", "Read", "Identify", "Close", "Ask", "Patience"))
	})

	It("one file alone reaches the client library, and makes no client of it that could write", func() {
		files, err := os.ReadDir(".")
		Expect(err).NotTo(HaveOccurred())
		for _, f := range files {
			if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
				continue
			}
			tree, err := parser.ParseFile(token.NewFileSet(), f.Name(), nil, 0)
			Expect(err).NotTo(HaveOccurred())
			for _, i := range tree.Imports {
				if strings.Contains(i.Path.Value, "goburrow") {
					Expect(f.Name()).To(Equal("link.go"))
				}
			}
			text, err := os.ReadFile(f.Name())
			Expect(err).NotTo(HaveOccurred())
			Expect(string(text)).NotTo(MatchRegexp(`goburrow\.(NewClient|TCPClient)\(|FuncCodeWrite|WriteSingle|WriteMultiple|MaskWrite`), f.Name())
		}
	})

	It("no other function than 01 to 04 and 2B can be asked for", func() {
		address, seen := serve(holding(0, 1))
		l := dial(address)
		for f := range 256 {
			switch f {
			case 1, 2, 3, 4, 0x2B:
				Expect(func() { l.Ask(byte(f), []byte{0, 0, 0, 1}) }).NotTo(Panic())
			default:
				Expect(func() { l.Ask(byte(f), []byte{0, 0, 0, 1}) }).To(PanicWith(ContainSubstring("never sends function")))
			}
		}
		Expect(seen.functions).To(HaveLen(5))
	})

	It("a server sees only functions that read, whatever is looked at", func() {
		south, err := registers.Builtin("south")
		Expect(err).NotTo(HaveOccurred())
		east, err := registers.LoadMap("../../testdata/maps/split_east.yaml")
		Expect(err).NotTo(HaveOccurred())
		west, err := registers.LoadMap("../../testdata/maps/swapped_west.yaml")
		Expect(err).NotTo(HaveOccurred())
		total := map[byte]int{}
		for _, c := range []struct {
			layout *registers.Map
			want   probe.Request
		}{
			{registers.SunSpecBattery(3), probe.Request{}},
			{south, probe.Request{Map: south}}, {east, probe.Request{Map: east}}, {west, probe.Request{Map: west}},
			{south, probe.Request{}},
			{south, probe.Request{Range: &probe.Range{Table: registers.Holding, From: 0x200, To: 0x210}}},
			{west, probe.Request{Range: &probe.Range{Table: registers.Coil, From: 0, To: 99}}},
			{west, probe.Request{Range: &probe.Range{Table: registers.Discrete, From: 0, To: 99}}},
		} {
			address, seen := serve(&imaged{&memory{texts: []string{"kilter bench", "x", "1"}}, registers.NewImage(c.layout, registers.Options{})})
			_, _ = probe.Look(context.Background(), dial(address), c.want)
			seen.Lock()
			Expect(seen.functions).NotTo(BeEmpty())
			for f, n := range seen.functions {
				total[f] += n
			}
			seen.Unlock()
		}
		Expect(total).To(And(HaveLen(5), HaveKey(byte(1)), HaveKey(byte(2)), HaveKey(byte(3)), HaveKey(byte(4)), HaveKey(byte(0x2B))))
	})
})
