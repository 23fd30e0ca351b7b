package emulator

import (
	"bytes"
	"encoding/binary"
	"time"

	"kilter/emulator/modbus"
)

// DeviceTraffic counts what was asked of one device until the run ended.
type DeviceTraffic struct {
	Device                                          string
	Requests, Reads, Writes, Exceptions, Unanswered int
	// Retries repeat the request before them, which was refused or not answered.
	Retries int
	// RefusedReads were answered with an exception, and RefusedRead tells the first of them: at what time, which function,
	// which register, and why.
	RefusedReads int
	RefusedRead  RefusedRead
	// SmallestGap is the least time from the end of a request to the next one. It means nothing with one request.
	SmallestGap time.Duration
}

// RefusedRead is a request to read that was answered with an exception.
type RefusedRead struct {
	At        time.Duration // when it was asked
	Function  byte
	Register  uint16 // the first one; 0 where the request was malformed
	Exception modbus.Exception
}

// join adds what another controller asked of the same device.
func (t *DeviceTraffic) join(o DeviceTraffic) {
	t.Requests += o.Requests
	t.Reads += o.Reads
	t.Writes += o.Writes
	t.Exceptions += o.Exceptions
	t.Unanswered += o.Unanswered
	t.Retries += o.Retries
	if o.RefusedReads > 0 && (t.RefusedReads == 0 || o.RefusedRead.At < t.RefusedRead.At) {
		t.RefusedRead = o.RefusedRead
	}
	t.RefusedReads += o.RefusedReads
	if o.Requests > 1 && (t.SmallestGap > o.SmallestGap || t.SmallestGap == 0) {
		t.SmallestGap = o.SmallestGap
	}
}

// talk counts what is asked of a device, request by request.
type talk struct {
	DeviceTraffic
	last   []byte // the last request, without its transaction number
	failed bool   // it had an exception or no reply
	ended  time.Duration
}

// count takes one more exchange into account.
func (t *talk) count(x modbus.Exchange, reads, writes bool) {
	const transaction = 2 // the length of its number
	request := x.Request[transaction:]
	if t.failed && bytes.Equal(request, t.last) {
		t.Retries++
	}
	if gap := max(0, x.Asked-t.ended); t.Requests == 1 || t.Requests > 1 && gap < t.SmallestGap {
		t.SmallestGap = gap
	}
	t.Requests++
	if reads {
		t.Reads++
	}
	if writes {
		t.Writes++
	}
	if unanswered(x) {
		t.Unanswered++
	}
	if x.Exception != 0 {
		t.Exceptions++
		if !writes {
			t.refuse(x)
		}
	}
	t.last, t.failed, t.ended = append(t.last[:0], request...), unanswered(x) || x.Exception != 0, x.Answered
}

// refuse keeps the first request to read that was answered with an exception.
func (t *talk) refuse(x modbus.Exchange) {
	if t.RefusedReads++; t.RefusedReads > 1 {
		return
	}
	t.RefusedRead = RefusedRead{At: x.Asked, Function: x.Function, Exception: x.Exception}
	if data := x.Request[mbapLength+1:]; len(data) >= 2 {
		t.RefusedRead.Register = binary.BigEndian.Uint16(data)
	}
}

// unanswered says that a reply was due and none left. Nobody answers a broadcast.
func unanswered(x modbus.Exchange) bool { return len(x.Reply) == 0 && x.Unit != 0 }
