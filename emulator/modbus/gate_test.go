package modbus_test

import (
	"errors"
	"io"
	"sync"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// porter is a gate that ends requests as it is told, and notes what it saw and what was recorded.
type porter struct {
	mutex    sync.Mutex
	says     error
	holds    bool
	waits    chan struct{} // if not nil, a request waits here or until its client leaves
	seen     []byte        // functions
	recorded []modbus.Exchange
}

func (p *porter) Enter(x modbus.Exchange) error {
	p.mutex.Lock()
	p.seen = append(p.seen, x.Function)
	waits, says := p.waits, p.says
	p.mutex.Unlock()
	if waits != nil {
		select {
		case <-waits:
		case <-x.Peer.Done:
			return modbus.ErrClose
		}
	}
	return says
}

func (p *porter) Holds() bool { return p.holds }

func (p *porter) record(x modbus.Exchange) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	x.Reply = append([]byte(nil), x.Reply...)
	p.recorded = append(p.recorded, x)
}

// set changes the gate between two requests.
func (p *porter) set(change func()) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	change()
}

func (p *porter) functions() []byte {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	return append([]byte(nil), p.seen...)
}

func (p *porter) last() modbus.Exchange {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	return p.recorded[len(p.recorded)-1]
}

var _ = Describe("a gate before the units", func() {
	behind := func(p *porter) (*memory, wire) {
		GinkgoHelper()
		device := newMemory(10)
		server := serve(map[byte]modbus.Device{1: device}, modbus.Options{Gate: p, Record: p.record})
		return device, dial(server)
	}
	read := frame(1, 1, bytesOf("03 00 00 00 01"))

	It("sees a request once, whatever it does, and lets it through", func() {
		p := &porter{}
		_, c := behind(p)
		for _, pdu := range []string{"03 00 00 00 01", "17 00 00 00 01 00 01 00 01 02 12 34", "16 00 01 FF FF 00 00", "2B 0E 01 00", "63"} {
			c.send(frame(1, 1, bytesOf(pdu)))
			c.receive()
		}
		Expect(p.functions()).To(Equal(bytesOf("03 17 16 2B 63")))
		Expect(p.last().Ended).NotTo(HaveOccurred())
	})

	It("answers in the unit's place with an exception, or with garbage", func() {
		p := &porter{says: modbus.ServerDeviceBusy}
		device, c := behind(p)
		c.send(frame(1, 1, bytesOf("06 00 00 00 07")))
		Expect(c.receive()).To(Equal(bytesOf("00 01 00 00 00 03 01 86 06")))
		device.mutex.Lock()
		Expect(device.holding[0]).To(BeZero())
		device.mutex.Unlock()
		p.set(func() { p.says = modbus.RawReply("\x00\x01\x00\x00\x00\x02xy") })
		c.send(read)
		Expect(c.receive()).To(Equal([]byte("\x00\x01\x00\x00\x00\x02xy")))
	})

	It("ends the connection, with the last bytes before", func() {
		p := &porter{says: errors.Join(modbus.RawReply("rubbish"), modbus.ErrClose)}
		_, c := behind(p)
		c.send(read)
		Expect(io.ReadAll(c)).To(BeEquivalentTo("rubbish"))
		Expect(p.last()).To(And(HaveField("Ended", modbus.ErrClose), HaveField("Reply", BeEquivalentTo("rubbish"))))

		p = &porter{says: modbus.ErrReset}
		_, c = behind(p)
		c.send(read)
		_, err := io.ReadAll(c)
		Expect(err).To(MatchError(ContainSubstring("reset")))
		Expect(p.last()).To(And(HaveField("Ended", modbus.ErrReset), HaveField("Reply", BeEmpty())))
	})

	It("may hold a request: replies before it leave, and its client may go away", func() {
		p := &porter{holds: true}
		_, c := behind(p)
		c.send(read)
		c.receive()
		p.set(func() { p.waits = make(chan struct{}) })
		c.send(read)
		Eventually(p.functions).Should(HaveLen(2))
		Expect(c.Close()).To(Succeed())
		Eventually(func() error { return p.last().Ended }).Should(Equal(modbus.ErrClose))
	})
})
