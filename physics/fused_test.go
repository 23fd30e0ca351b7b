package physics

import (
	"os"
	"os/exec"
	"regexp"
	"slices"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("bit identity", func() {
	// Assigning a product to a variable does not keep the compiler from fusing it with a later sum; only
	// float64(x*y) does. What the compiler made for arm64, which has fused instructions, tells.
	It("compiles to no fused multiply and add", func() {
		tool, err := exec.LookPath("go")
		if err != nil {
			Skip("the go command is not on the path: the assembly cannot be looked at")
		}
		build := exec.Command(tool, "build", "-gcflags=-S", "-o", os.DevNull, ".")
		build.Env = append(os.Environ(), "GOARCH=arm64", "GOOS=linux", "CGO_ENABLED=0")
		assembly, err := build.CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), string(assembly))
		Expect(regexp.MustCompile(`/physics/pv_ac\.go:\d+\)\s+FMULD`).Match(assembly)).To(BeTrue(), "the assembly is readable")
		fused := regexp.MustCompile(`/physics/(\w+\.go:\d+)\)\s+(FN?M(?:ADD|SUB)[DS])`)
		var places []string
		for _, found := range fused.FindAllSubmatch(assembly, -1) {
			places = append(places, string(found[1])+" has "+string(found[2]))
		}
		slices.Sort(places)
		Expect(slices.Compact(places)).To(BeEmpty(), "write float64(x*y) around each product")
	})
})
