package cmd_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// TestHouse holds the code to the table of rooms in DEVELOPERS.md. It stands apart from the commands, whose
// own test binaries must hold no specs but those that kilter check declares.
func TestHouse(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "the house")
}
