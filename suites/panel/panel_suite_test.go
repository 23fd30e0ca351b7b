package panel_test

import (
	"flag"
	"os"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/cmd/steady/control"
)

var pictures = flag.String("pictures", "", "also take pictures of the panel into this folder, for eyes")

// asController makes this test binary run as steady, so that a real controller polls the bench over Modbus.
const asController = "KILTER_TEST_AS_STEADY"

func TestMain(m *testing.M) {
	if os.Getenv(asController) != "" {
		os.Exit(control.Main(os.Args[1:], os.Stderr))
	}
	os.Exit(m.Run())
}

func TestPanel(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "panel")
}
