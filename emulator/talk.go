package emulator

import (
	"bytes"
	"time"

	"kilter/emulator/modbus"
)

// DeviceTraffic counts what was asked of one device until the run ended.
type DeviceTraffic struct {
	Device                                          string
	Requests, Reads, Writes, Exceptions, Unanswered int
	// Retries repeat the request before them, which was refused or not answered.
	Retries int
	// SmallestGap is the least time from the end of a request to the next one. It means nothing with one request.
	SmallestGap time.Duration
}

// join adds what another controller asked of the same device.
func (t *DeviceTraffic) join(o DeviceTraffic) {
	t.Requests += o.Requests
	t.Reads += o.Reads
	t.Writes += o.Writes
	t.Exceptions += o.Exceptions
	t.Unanswered += o.Unanswered
	t.Retries += o.Retries
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
	}
	t.last, t.failed, t.ended = append(t.last[:0], request...), unanswered(x) || x.Exception != 0, x.Answered
}

// unanswered says that a reply was due and none left. Nobody answers a broadcast.
func unanswered(x modbus.Exchange) bool { return len(x.Reply) == 0 && x.Unit != 0 }
