package report_test

import (
	"bytes"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

func rendered(run verdict.Run, series report.Series, site report.Wiring) string {
	var page bytes.Buffer
	ExpectWithOffset(1, report.Page(&page, run, series, site)).To(Succeed())
	return page.String()
}

// kept writes the page where -page says, for eyes.
func kept(name, page string) {
	if *pageTo != "" {
		ExpectWithOffset(1, os.WriteFile(filepath.Join(*pageTo, name), []byte(page), 0o644)).To(Succeed())
	}
}

var _ = Describe("the page", func() {
	It("holds a bakery's day in less than 3 MB", func() {
		page := rendered(judged(), bakery(24), wiring())
		kept("day.html", page)
		Expect(len(page)).To(BeNumerically("<", 3<<20))
	})
})
