package modbus_test

import (
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

var _ = Describe("a client in the server's own process", func() {
	read := []byte{0, 7, 0, 0, 0, 6, 1, 3, 0, 2, 0, 1}                  // transaction 7, unit 1: holding register 2
	write := []byte{0, 8, 0, 0, 0, 6, 1, 6, 0, 2, 0xBE, 0xEF}           // the same register becomes BEEF
	answered := []byte{0, 7, 0, 0, 0, 5, 1, 3, 2, 0xBE, 0xEF}           // two bytes
	refused := []byte{0, 7, 0, 0, 0, 3, 1, 0x83, 2}                     // exception 02
	beyond := []byte{0, 7, 0, 0, 0, 6, 1, 3, 0x10, 0, 0, 1}             // a register that the device lacks
	begin := func(opt modbus.Options) (*modbus.Server, *modbus.Local) { // one unit of ten registers
		GinkgoHelper()
		s, err := modbus.NewServer(map[byte]modbus.Device{1: newMemory(10)}, opt)
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(s.Close)
		l, err := s.Local(3)
		Expect(err).NotTo(HaveOccurred())
		return s, l
	}

	It("is answered, recorded and counted as one on a socket, and numbers its controller", func() {
		p := &porter{}
		s, l := begin(modbus.Options{Gate: p, Record: p.record})
		Expect(s.Addr().String()).To(BeEmpty())
		Expect(l.Ask(write)).To(Equal(write), "an echo")
		Expect(l.Ask(read)).To(Equal(answered))
		Expect(l.Ask(beyond)).To(Equal(refused))
		Expect(p.functions()).To(Equal([]byte{6, 3, 3}))
		Expect(p.last()).To(And(HaveField("Exception", modbus.IllegalDataAddress), HaveField("Peer.Controller", 3)))
		Expect(s.Stats()).To(And(HaveField("Requests", uint64(3)), HaveField("Exceptions", uint64(1)), HaveField("Open", 1)))
	})

	It("gets nothing where nothing is answered, and what a fault has left of a reply", func() {
		s, l := begin(modbus.Options{})
		s.SetFault(1, modbus.Fault{Spoil: modbus.NoReply})
		Expect(l.Ask(read)).To(BeEmpty())
		s.SetFault(1, modbus.Fault{Spoil: modbus.HalfReply})
		Expect(l.Ask(read)).To(HaveLen(len(answered) / 2))
	})

	It("is held up by a slow reply for as long as it drips, on the server's clock", func() {
		var passed time.Duration
		s, l := begin(modbus.Options{Wait: func(_ modbus.Peer, d time.Duration) error { passed += d; return nil }})
		s.SetFault(1, modbus.Fault{Delay: time.Second, Drip: 10 * time.Millisecond})
		Expect(l.Ask(read)).To(HaveLen(len(answered)))
		Expect(passed).To(Equal(time.Second + time.Duration(len(answered)-1)*10*time.Millisecond))
	})

	It("is cut off where a device closes or resets, and can connect anew", func() {
		p := &porter{says: modbus.ErrReset}
		s, l := begin(modbus.Options{Gate: p})
		_, err := l.Ask(read)
		Expect(err).To(MatchError(modbus.ErrReset))
		p.set(func() { p.says = nil })
		_, err = l.Ask(read)
		Expect(err).To(MatchError(modbus.ErrClose))
		Expect(s.Stats().Open).To(BeZero())
		again, err := s.Local(3)
		Expect(err).NotTo(HaveOccurred())
		Expect(again.Ask(write)).To(Equal(write))
	})

	It("is released by the server's end, and gets nothing afterwards", func() {
		p := &porter{waits: make(chan struct{})}
		s, l := begin(modbus.Options{Gate: p})
		ended := make(chan error)
		go func() {
			_, err := l.Ask(read)
			ended <- err
		}()
		Eventually(p.functions).Should(HaveLen(1))
		Expect(s.Close()).To(Succeed())
		Expect(<-ended).To(MatchError(modbus.ErrClose))
		_, err := l.Ask(read)
		Expect(err).To(MatchError(modbus.ErrClose))
		_, err = s.Local(3)
		Expect(err).To(MatchError(modbus.ErrClose))
	})
})
