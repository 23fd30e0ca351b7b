// Command controller is one to begin with: north follows the site alone, and south helps where that is not enough. Put
// your own policy into decide, and your own devices' registers into main: kilter probe reads them.
//
//	go build -o controller . && kilter check calm-start --controller ./controller
package main

import (
	"cmp"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/goburrow/modbus"
)

const poll = 10 * time.Second

// decide gives how much south may charge and discharge [W] at a grid power [W] that is positive on import.
func decide(grid float64, charge, discharge uint32) (uint32, uint32) {
	if grid > 500 { // north alone does not get there
		return 0, 3600
	} else if grid < -500 {
		return 3600, 0
	}
	return charge, discharge
}

type device struct {
	Name, Address string
	Unit          byte
}

// ask asks a device something over a connection of its own.
func (d device) ask(what func(modbus.Client) ([]byte, error)) ([]byte, error) {
	h := modbus.NewTCPClientHandler(d.Address)
	h.SlaveId, h.Timeout = d.Unit, time.Minute
	defer h.Close()
	return what(modbus.NewClient(h))
}

func main() {
	var bench struct {
		Pace    string
		Clock   device
		Devices []device
	}
	text, _ := os.ReadFile(os.Getenv("KILTER_BENCH"))
	err := json.Unmarshal(text, &bench)
	site := map[string]device{}
	for _, d := range bench.Devices {
		site[d.Name] = d
	}
	factor, _ := strconv.ParseFloat(strings.TrimPrefix(strings.Replace(bench.Pace, "real", "x1", 1), "x"), 64)
	for charge, discharge := uint32(0), uint32(0); err == nil; {
		// SunSpec model 203 begins at 40070: W is its point 18, with the scale factor at 22.
		model, sick := site["grid_meter"].ask(func(c modbus.Client) ([]byte, error) { return c.ReadHoldingRegisters(40070, 23) })
		if sick == nil {
			w, scale := int16(binary.BigEndian.Uint16(model[36:])), int16(binary.BigEndian.Uint16(model[44:]))
			charge, discharge = decide(float64(w)*math.Pow10(int(scale)), charge, discharge)
			_, sick = site["south"].ask(func(c modbus.Client) ([]byte, error) {
				return c.WriteMultipleRegisters(0x203, 2, binary.BigEndian.AppendUint32(nil, charge<<16|discharge))
			})
		}
		fmt.Println("south may charge", charge, "W and discharge", discharge, "W; trouble:", sick) // and tries again
		time.Sleep(time.Duration(float64(poll) / cmp.Or(factor, math.Inf(1))))                     // not in paces stepped and follow
		_, err = bench.Clock.ask(func(c modbus.Client) ([]byte, error) {
			if bench.Pace != "stepped" {
				return c.ReadInputRegisters(0, 2)
			}
			return c.WriteMultipleRegisters(0, 2, binary.BigEndian.AppendUint32(nil, uint32(poll.Milliseconds()))) // answered then
		})
	}
	fmt.Println("there is no bench, or the clock has closed since the scenario is over:", err)
}
