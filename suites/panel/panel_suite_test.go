package panel_test

import (
	"flag"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var pictures = flag.String("pictures", "", "also take pictures of the panel into this folder, for eyes")

func TestPanel(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "panel")
}
