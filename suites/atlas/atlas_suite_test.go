package atlas

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestAtlas(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "atlas")
}
