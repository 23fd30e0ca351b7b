package main

import (
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

const tables = "../../sunspec"

var _ = It("The committed tables are what the generator makes of the definitions", func() {
	source := os.Getenv("KILTER_SUNSPEC")
	if source == "" {
		source = filepath.Join("..", "..", "..", "..", "..", "shared", "sunspec")
	}
	if files, _ := filepath.Glob(filepath.Join(source, "model_*.json")); len(files) == 0 {
		Skip("the SunSpec model definitions are missing: name the folder of model_*.json in KILTER_SUNSPEC")
	}
	out := GinkgoT().TempDir()
	Expect(run(source, out)).To(Succeed())
	made, err := filepath.Glob(filepath.Join(out, "*.go"))
	Expect(err).NotTo(HaveOccurred())
	Expect(made).NotTo(BeEmpty())
	for _, file := range made {
		fresh, err := os.ReadFile(file)
		Expect(err).NotTo(HaveOccurred())
		committed, err := os.ReadFile(filepath.Join(tables, filepath.Base(file)))
		Expect(err).NotTo(HaveOccurred())
		Expect(string(fresh)).To(Equal(string(committed)), filepath.Base(file))
	}
})

var _ = Describe("The generator", func() {
	write := func(json string) string {
		folder := GinkgoT().TempDir()
		Expect(os.WriteFile(filepath.Join(folder, "model_9.json"), []byte(json), 0o644)).To(Succeed())
		return folder
	}
	out := func() string { return GinkgoT().TempDir() }

	It("asks for the folder", func() {
		Expect(run("", out())).To(MatchError(ContainSubstring("KILTER_SUNSPEC")))
	})
	It("says so when the folder holds no definitions", func() {
		Expect(run(out(), out())).To(MatchError(ContainSubstring("no model_*.json")))
	})
	It("refuses a point without a size", func() {
		Expect(run(write(`{"id": 9, "group": {"name": "g", "points": [{"name": "ID", "type": "uint16"}]}}`), out())).
			To(MatchError(ContainSubstring("point ID has no size")))
	})
	It("refuses a scale factor that is a number, which the tables cannot say", func() {
		Expect(run(write(`{"id": 9, "group": {"name": "g", "points": [{"name": "W", "type": "int16", "size": 1, "sf": -1}]}}`), out())).
			To(MatchError(ContainSubstring("is not the name of a point")))
	})
})
