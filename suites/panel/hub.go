package panel

import (
	"bytes"
	"compress/flate"
	"encoding/json"
	"fmt"
	"sync"
	"time"
)

// event is one message to the viewers, as it goes over the line, plain and compressed.
type event struct{ plain, squeezed []byte }

// hub hands events on to viewers. Each event is compressed once, for all of them: a compressed event refers to
// nothing before it, so that it can follow whatever a viewer got before.
type hub struct {
	mutex   sync.Mutex
	viewers map[*viewer]bool
	number  int64
	closed  bool
	squeeze *flate.Writer
}

// viewer is one connection. Its events are dropped, and the connection with them, when it is too slow.
type viewer struct {
	events chan event
	gone   chan struct{}
	once   sync.Once
}

// waiting is how many events a viewer may be behind: some seconds.
const waiting = 64

func newHub() *hub {
	squeeze, err := flate.NewWriter(nil, flate.BestSpeed)
	if err != nil {
		panic(err) // only a wrong level makes one
	}
	return &hub{viewers: map[*viewer]bool{}, squeeze: squeeze}
}

func (v *viewer) leave() { v.once.Do(func() { close(v.gone) }) }

// retry is how long a page waits that has lost its connection.
const retry = time.Second

// count is how many are looking.
func (h *hub) count() int {
	h.mutex.Lock()
	defer h.mutex.Unlock()
	return len(h.viewers)
}

// join makes a viewer, to whom all events go from now on.
func (h *hub) join() *viewer {
	h.mutex.Lock()
	defer h.mutex.Unlock()
	v := &viewer{events: make(chan event, waiting), gone: make(chan struct{})}
	h.viewers[v] = true
	if h.closed {
		v.leave()
	}
	return v
}

// only makes an event for one viewer.
func (h *hub) only(name string, content any) (event, error) {
	h.mutex.Lock()
	defer h.mutex.Unlock()
	return h.made(name, content)
}

func (h *hub) part(v *viewer) {
	h.mutex.Lock()
	defer h.mutex.Unlock()
	delete(h.viewers, v)
	v.leave()
}

// send gives all viewers an event.
func (h *hub) send(name string, content any) {
	h.mutex.Lock()
	defer h.mutex.Unlock()
	if len(h.viewers) == 0 {
		return
	}
	e, err := h.made(name, content)
	if err != nil {
		return // a figure that is none; the next event has another
	}
	for v := range h.viewers {
		select {
		case v.events <- e:
		default:
			v.leave()
		}
	}
}

// close sends all viewers away.
func (h *hub) close() {
	h.mutex.Lock()
	defer h.mutex.Unlock()
	h.closed = true
	for v := range h.viewers {
		v.leave()
	}
}

// made puts an event into bytes. The caller holds the mutex.
func (h *hub) made(name string, content any) (event, error) {
	text, err := json.Marshal(content)
	if err != nil {
		return event{}, err
	}
	h.number++
	plain := fmt.Appendf(nil, "id: %d\nretry: %d\nevent: %s\ndata: %s\n\n", h.number, retry.Milliseconds(), name, text)
	var squeezed bytes.Buffer
	h.squeeze.Reset(&squeezed)
	if _, err := h.squeeze.Write(plain); err != nil {
		return event{}, err
	}
	if err := h.squeeze.Flush(); err != nil {
		return event{}, err
	}
	return event{plain, squeezed.Bytes()}, nil
}

// gzipHead opens a stream of compressed events: the header of RFC 1952 without a name and a time.
var gzipHead = []byte{0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 255}
