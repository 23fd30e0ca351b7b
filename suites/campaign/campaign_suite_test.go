package campaign_test

import (
	"os"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/cmd/steady/control"
	"kilter/cmd/steady/wrong"
	"kilter/suites/campaign"
)

// TestMain lets this test binary run as the controllers that come along, so that runs start it as the process that it is.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 {
		switch os.Args[1] {
		case "natsd":
			natsd(os.Args[2], os.Args[3], os.Args[4])
			return
		case "linger":
			linger(os.Args[2])
			return
		case "joiner":
			joiner(os.Args[2])
			return
		case "player":
			if err := campaign.PlayFor(os.Stdin, os.Stdout); err != nil {
				panic(err)
			}
			return
		case "parent":
			parent(os.Args[2])
			return
		case "frail":
			frail(os.Args[2])
			return
		case "steady":
			os.Exit(control.Main(os.Args[2:], os.Stderr))
		case "alone":
			if err := alone(os.Args[2], os.Args[3:]); err != nil {
				panic(err)
			}
			os.Exit(0)
		case "wrong":
			fault, err := wrong.Find(os.Args[2])
			if err != nil {
				panic(err)
			}
			os.Exit(fault.Main(os.Args[3:], os.Stderr))
		}
	}
	os.Exit(m.Run())
}

func TestCampaign(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "campaign")
}
