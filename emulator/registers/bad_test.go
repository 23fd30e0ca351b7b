package registers_test

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/registers"
)

var update = flag.Bool("update", false, "write the errors that bad maps give now beside them; inspect the diff before it is committed")

var _ = Describe("A map with a mistake", func() {
	files, err := filepath.Glob(filepath.Join(mapFolder, "bad", "*.yaml"))
	if err != nil || len(files) == 0 {
		panic("no bad maps in " + mapFolder)
	}
	for _, file := range files {
		name := filepath.Base(file)
		It("is refused: "+name, func() {
			src, err := os.ReadFile(file)
			Expect(err).NotTo(HaveOccurred())
			_, err = registers.ParseMap(name, src)
			Expect(err).To(HaveOccurred())
			var fault *registers.MapError
			Expect(errors.As(err, &fault)).To(BeTrue())
			Expect(fault.Line).To(BeNumerically(">=", 1))
			Expect(fault.Want).NotTo(BeEmpty(), "an error says what would be right")
			golden := strings.TrimSuffix(file, ".yaml") + ".txt"
			if *update {
				Expect(os.WriteFile(golden, []byte(err.Error()+"\n"), 0o644)).To(Succeed())
			}
			want, readErr := os.ReadFile(golden)
			Expect(readErr).NotTo(HaveOccurred())
			Expect(err.Error() + "\n").To(Equal(string(want)))
		})
	}
})
