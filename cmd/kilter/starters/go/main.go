// Command controller is one to begin with: north follows the site alone, and south helps where that is not enough. Put
// your own policy into decide, and your own devices' registers into main: kilter probe reads them.
//
//	go build -o controller . && kilter check calm-start --controller ./controller
package main

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"time"

	"github.com/goburrow/modbus"
)

const poll = 10 * time.Second

// decide gives how much south may charge and discharge [W] at a grid power [W], positive on import, now and a poll ago.
func decide(grid, before float64, limits [2]uint16) [2]uint16 {
	if min(grid, before) > 500 { // north alone does not get there
		return [2]uint16{0, 3600}
	} else if max(grid, before) < -500 {
		return [2]uint16{3600, 0}
	}
	return limits
}

type device struct {
	Name, Address string
	Unit          byte
}

func (d device) open() modbus.Client {
	h := modbus.NewTCPClientHandler(d.Address)
	h.SlaveId, h.Timeout, h.IdleTimeout = d.Unit, time.Minute, time.Millisecond // each request dials anew
	return modbus.NewClient(h)
}

func main() {
	var bench struct {
		Pace    string
		Clock   device
		Devices []device
	}
	text, _ := os.ReadFile(os.Getenv("KILTER_BENCH"))
	err := json.Unmarshal(text, &bench)
	clock, site := bench.Clock.open(), map[string]modbus.Client{}
	for _, d := range bench.Devices {
		site[d.Name] = d.open()
	}
	factor := map[string]float64{"real": 1, "follow": math.Inf(1)}[bench.Pace] // 0 in pace stepped
	fmt.Sscanf(bench.Pace, "x%g", &factor)                                     // as in x20
	limits, told, before := [2]uint16{}, [2]uint16{1}, 0.0
	for err == nil {
		// SunSpec model 203 begins at 40070: W is its point 18, with the scale factor at 22.
		model, sick := site["grid_meter"].ReadHoldingRegisters(40070, 23)
		if sick == nil {
			w, scale := int16(binary.BigEndian.Uint16(model[36:])), int16(binary.BigEndian.Uint16(model[44:]))
			grid := float64(w) * math.Pow10(int(scale))
			limits, before = decide(grid, before, limits), grid
		}
		if sick == nil && limits != told { // a register wears out
			if _, sick = site["south"].WriteMultipleRegisters(0x203, 2, binary.BigEndian.AppendUint32(nil, uint32(limits[0])<<16|uint32(limits[1]))); sick == nil {
				told = limits
			}
		}
		fmt.Println("south may charge and discharge", told, "W; trouble:", sick)
		if factor > 0 {
			time.Sleep(time.Duration(float64(poll) / factor))
			_, err = clock.ReadInputRegisters(0, 2)
		} else { // the reply comes when so many milliseconds have passed
			_, err = clock.WriteMultipleRegisters(0, 2, binary.BigEndian.AppendUint32(nil, uint32(poll.Milliseconds())))
		}
	}
	fmt.Println("there is no bench, or the clock has closed since the scenario is over:", err)
}
