package emulator_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
)

// pymodbusClient is a command that runs a script with the Python client.
func pymodbusClient() *exec.Cmd {
	GinkgoHelper()
	const python = "/usr/bin/python3" // Debian's own, for which Debian's python3-pymodbus is
	if exec.Command(python, "-c", "import pymodbus.client").Run() != nil {
		Skip("pymodbus is missing: Debian's package python3-pymodbus brings it")
	}
	return exec.Command(python, "testdata/pymodbus_client.py")
}

// modbusSerialClient is a command that runs a script with the npm client.
func modbusSerialClient() *exec.Cmd {
	GinkgoHelper()
	node, err := exec.LookPath("node")
	if err != nil {
		Skip("node is missing: Debian's package nodejs brings it")
	}
	modules := os.Getenv("KILTER_NODE_MODULES")
	if _, err := os.Stat(filepath.Join(modules, "modbus-serial")); modules == "" || err != nil {
		Skip("the npm package modbus-serial is missing: npm install it in a folder of its own, and set KILTER_NODE_MODULES to the node_modules there")
	}
	c := exec.Command(node, "testdata/modbus_serial.js")
	c.Env = append(os.Environ(), "NODE_PATH="+modules)
	return c
}

var _ = DescribeTable("an independent client that reads the bench file agrees with the plant",
	func(client func() *exec.Cmd) {
		c := client()
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		clock := connect(b)
		north, south := &b.Plant().Inverters[0], &b.Plant().Inverters[1]
		// Long enough for both to be at work, else sign and scale are not tested.
		for north.PowerW > -100 && north.PowerW < 100 || south.PowerW > -100 && south.PowerW < 100 {
			Expect(clock.wait(10_000)).To(BeTrue())
		}

		file := filepath.Join(GinkgoT().TempDir(), "bench.json")
		Expect(b.WriteFile(file)).To(Succeed())
		if c.Env == nil {
			c.Env = os.Environ()
		}
		c.Env = append(c.Env, emulator.BenchVariable+"="+file)
		var complaints strings.Builder
		c.Stderr = &complaints
		out, err := c.Output()
		Expect(err).NotTo(HaveOccurred(), "%s", &complaints)
		var seen struct {
			Marker                      string
			NorthW, SouthW, SoC, LimitW float64
			Beyond, Refused             int
		}
		Expect(json.Unmarshal(out, &seen)).To(Succeed(), "%s", out)

		Expect(seen.Marker).To(Equal("SunS"))
		Expect(seen.NorthW).To(BeNumerically("~", north.PowerW, 1))
		Expect(seen.SouthW).To(BeNumerically("~", south.PowerW, 0.51))
		Expect(seen.SoC).To(BeNumerically("~", south.Battery.SOC, 0.00051))
		Expect(seen.Beyond).To(Equal(2), "illegal data address")
		Expect(seen.Refused).To(Equal(3), "illegal data value")
		Expect(seen.LimitW).To(Equal(1234.0), "a written register reads back at once")

		Expect(clock.wait(100)).To(BeTrue())
		Expect(south.ChargeLimitW()).To(Equal(1234.0))
		Expect(south.SetpointW()).To(Equal(800.0), "discharging is positive in the register")
	},
	Entry("pymodbus, from Debian", pymodbusClient),
	Entry("modbus-serial, from npm", modbusSerialClient),
)
