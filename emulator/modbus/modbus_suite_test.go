package modbus_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestModbus(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "modbus")
}
