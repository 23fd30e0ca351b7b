package scenarios

import (
	"flag"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// update rewrites the golden files: go test ./scenarios -update. Inspect the
// difference, and commit only what you understand.
var update = flag.Bool("update", false, "rewrite the golden files")

func TestScenarios(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "Scenarios")
}
