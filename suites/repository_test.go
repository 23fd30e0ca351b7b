package suites_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("the example of another repository", func() {
	It("passes its own tests beside this one in a go.work", func() {
		tool, err := exec.LookPath("go")
		if err != nil {
			Skip("the go tool is missing")
		}
		root, err := filepath.Abs("..")
		Expect(err).NotTo(HaveOccurred())
		folder := GinkgoT().TempDir()
		Expect(os.CopyFS(folder, os.DirFS(filepath.Join(root, "testdata", "another-repository")))).To(Succeed())
		version, err := exec.CommandContext(GinkgoT().Context(), tool, "list", "-m", "-f", "{{.GoVersion}}").Output()
		Expect(err).NotTo(HaveOccurred())
		work := fmt.Sprintf("go %s\nuse .\n\nuse %q\n", version, root)
		Expect(os.WriteFile(filepath.Join(folder, "go.work"), []byte(work), 0o600)).To(Succeed())
		test := exec.CommandContext(GinkgoT().Context(), tool, "test", "./...")
		test.Dir = folder
		test.Env = append(os.Environ(), "GOFLAGS=", "GOWORK="+filepath.Join(folder, "go.work"))
		out, err := test.CombinedOutput()
		Expect(err == nil).To(BeTrue(), "%s", out)
		Expect(string(out)).To(ContainSubstring("ok"))
	})
})
