package sunspec_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestSunspec(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "SunSpec tables")
}
