package report_test

import (
	"flag"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var (
	update = flag.Bool("update", false, "rewrite the golden files under testdata")
	pageTo = flag.String("page", "", "also write the sample pages into this folder, to look at them in a browser")
)

func TestReport(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "report")
}
