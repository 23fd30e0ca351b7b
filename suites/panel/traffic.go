package panel

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"sync"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/suites/verdict"
)

// frame is one exchange with a device, in words.
type frame struct {
	At      string `json:"at"`
	Device  string `json:"device"`
	Asked   string `json:"asked"`
	Reply   string `json:"reply"`
	Trouble bool   `json:"trouble,omitempty"`
}

// overheard keeps the last frames, and those that no viewer has been told yet. They are put into words only when
// somebody looks.
type overheard struct {
	names map[string]map[place]string // by device: what stands at a register

	mutex sync.Mutex // guards all below
	last  []heard
	fresh int // how many of them are new
	total int64
}

// heard is a frame as it went over the line.
type heard struct {
	device string
	x      modbus.Exchange
}

type place struct {
	table   registers.Table
	address uint16
}

// remembered is how many frames a new viewer sees; a burst longer than that leaves out its middle.
const remembered = 60

func (o *overheard) take(device string, x modbus.Exchange) {
	x.Request, x.Reply = bytes.Clone(x.Request), bytes.Clone(x.Reply)
	o.mutex.Lock()
	defer o.mutex.Unlock()
	if n := len(o.last); n >= 2*remembered {
		o.last = append(o.last[:0], o.last[n-remembered:]...)
	}
	o.last = append(o.last, heard{device, x})
	o.fresh = min(o.fresh+1, remembered)
	o.total++
}

// untold takes what no viewer has been told yet.
func (o *overheard) untold() []frame {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	n := o.fresh
	o.fresh = 0
	return o.told(n)
}

func (o *overheard) all() []frame {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	return o.told(min(len(o.last), remembered))
}

// told puts the last n frames into words. The caller holds the mutex.
func (o *overheard) told(n int) []frame {
	list := []frame{}
	for _, h := range o.last[len(o.last)-n:] {
		f := frame{At: verdict.Moment(float64(h.x.Asked.Milliseconds()) / 1000), Device: h.device, Asked: o.asked(h.device, h.x)}
		if h.device == "" {
			f.Device = "bench clock"
		}
		f.Reply, f.Trouble = replied(h.x)
		list = append(list, f)
	}
	return list
}

func (o *overheard) count() int64 {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	return o.total
}

var tablesOf = map[byte]registers.Table{
	1: registers.Coil, 2: registers.Discrete, 3: registers.Holding, 4: registers.Input, 5: registers.Coil, 6: registers.Holding,
	15: registers.Coil, 16: registers.Holding, 22: registers.Holding, 23: registers.Holding,
}

const mbapLength = 7

// asked says in words what a request wants.
func (o *overheard) asked(device string, x modbus.Exchange) string {
	table, known := tablesOf[x.Function]
	if !known || len(x.Request) < mbapLength+5 {
		if x.Function == 0x2B {
			return "read identification"
		}
		return fmt.Sprintf("function %d", x.Function)
	}
	data := x.Request[mbapLength+1:]
	address, second := binary.BigEndian.Uint16(data), binary.BigEndian.Uint16(data[2:])
	what := fmt.Sprintf("%s %d", table, address)
	if name := o.names[device][place{table, address}]; name != "" {
		what += " (" + name + ")"
	}
	switch x.Function {
	case 1, 2, 3, 4:
		return fmt.Sprintf("read %d from %s", second, what)
	case 5, 6:
		return fmt.Sprintf("write %s = %d", what, second)
	case 16:
		return fmt.Sprintf("write %s = %s", what, words(data[min(5, len(data)):]))
	case 23:
		return fmt.Sprintf("read %d from %s, and write", second, what)
	}
	return fmt.Sprintf("write from %s", what)
}

// replied says in words what came back.
func replied(x modbus.Exchange) (text string, trouble bool) {
	switch {
	case x.Exception != 0:
		return "exception: " + x.Exception.String(), true
	case len(x.Reply) == 0:
		return "no reply", true
	case len(x.Reply) < mbapLength+2:
		return "a spoiled reply", true
	}
	switch x.Function {
	case 3, 4, 23:
		return words(x.Reply[mbapLength+2:]), false
	case 1, 2:
		return fmt.Sprintf("%08b", x.Reply[mbapLength+2:]), false
	}
	return "taken", false
}

// words writes registers as they stand, the first of them where there are many.
func words(data []byte) string {
	const most = 10
	var list []string
	for ; len(data) >= 2 && len(list) < most; data = data[2:] {
		list = append(list, fmt.Sprint(binary.BigEndian.Uint16(data)))
	}
	if len(data) >= 2 {
		list = append(list, fmt.Sprintf("and %d more", len(data)/2))
	}
	return strings.Join(list, " ")
}
