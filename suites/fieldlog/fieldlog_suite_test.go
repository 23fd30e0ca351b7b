package fieldlog

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestFieldlog(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "fieldlog")
}
