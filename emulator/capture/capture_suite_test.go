package capture_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestCapture(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "capture")
}
