package formula_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestFormula(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "formula")
}
