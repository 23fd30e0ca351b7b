package modbus_test

import (
	"io"
	"net"
	"sync/atomic"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"go.uber.org/goleak"

	"kilter/emulator/modbus"
)

// waiter is a device whose register 5 is answered when it is released, or not
// at all if the asker goes away.
type waiter struct {
	*memory
	entered  chan struct{}
	release  chan struct{}
	gaveUp   atomic.Int64
	declared bool // says that register 5 blocks
}

func newWaiter(declared bool) *waiter {
	return &waiter{memory: newMemory(10), entered: make(chan struct{}, 10), release: make(chan struct{}), declared: declared}
}

func (w *waiter) Blocks(table modbus.Table, address uint16) bool {
	return w.declared && table == modbus.HoldingRegisters && address == 5
}

func (w *waiter) WriteRegisters(from modbus.Peer, address uint16, values []uint16) error {
	if address <= 5 && int(address)+len(values) > 5 {
		w.entered <- struct{}{}
		select {
		case <-w.release:
		case <-from.Done:
			w.gaveUp.Add(1)
			return modbus.ErrClose
		}
	}
	return w.memory.WriteRegisters(from, address, values)
}

var _ = Describe("a device call that waits", func() {
	wait := frame(2, 1, bytesOf("06 00 05 00 01"))

	It("delays its own connection only, and the replies before it leave first", func() {
		device := newWaiter(true)
		server := serveOne(device)
		waiting, other := dial(server), dial(server)
		waiting.send(append(frame(1, 1, bytesOf("03 00 00 00 01")), wait...))
		Expect(waiting.receive()).To(Equal(bytesOf("00 01 00 00 00 05 01 03 02 00 00")))
		<-device.entered
		other.expectSaneHere()
		// What arrives meanwhile is kept, however it is cut.
		later := frame(3, 1, bytesOf("03 00 05 00 01"))
		waiting.send(later[:5])
		other.expectSaneHere()
		waiting.send(later[5:])
		close(device.release)
		Expect(waiting.receive()).To(Equal(wait))
		Expect(waiting.receive()).To(Equal(bytesOf("00 03 00 00 00 05 01 03 02 00 01")))
		waiting.expectSaneHere()
	})

	It("works again and again on one connection", func() {
		device := newWaiter(true)
		client := dial(serveOne(device))
		for range 200 {
			client.send(wait)
			<-device.entered
			device.release <- struct{}{}
			Expect(client.receive()).To(Equal(wait))
			client.expectSaneHere()
		}
	})

	It("is released when its client goes away", func() {
		device := newWaiter(true)
		server := serveOne(device)
		client := dial(server)
		client.send(wait)
		<-device.entered
		client.Close()
		Eventually(device.gaveUp.Load).Should(Equal(int64(1)))
		Eventually(func() int { return server.Stats().Open }).Should(BeZero())
		expectSane(server)
	})

	It("is seen wherever in the request its address lies", func() {
		device := newWaiter(true)
		server := serveOne(device)
		client := dial(server)
		late := frame(2, 1, bytesOf("10 00 04 00 02 04 00 01 00 02"))
		client.send(append(frame(1, 1, bytesOf("03 00 00 00 01")), late...))
		Expect(client.receive()).To(HaveLen(11))
		<-device.entered
		client.Close()
		Eventually(device.gaveUp.Load).Should(Equal(int64(1)))
	})
})

var _ = Describe("Close", func() {
	var before goleak.Option
	BeforeEach(func() { before = goleak.IgnoreCurrent() })

	expectNoLeak := func() {
		GinkgoHelper()
		Expect(goleak.Find(before)).To(Succeed())
	}

	It("leaves no goroutine and no connection", func() {
		server := serveOne(newMemory(10))
		clients := []wire{dial(server), dial(server), dial(server)}
		clients[0].expectSaneHere()
		clients[1].send(bytesOf("00 01 00"))
		Eventually(func() int { return server.Stats().Open }).Should(Equal(3))
		Expect(server.Close()).To(Succeed())
		Expect(server.Stats().Open).To(BeZero())
		for _, client := range clients {
			_, err := io.ReadAll(client)
			Expect(err).To(Or(Not(HaveOccurred()), MatchError(ContainSubstring("reset"))))
			client.Close()
		}
		expectNoLeak()
		Expect(server.Close()).To(Succeed(), "a second time")
	})

	for _, declared := range []bool{true, false} {
		It("releases a blocked device call, declared or not", func() {
			device := newWaiter(declared)
			server := serveOne(device)
			client := dial(server)
			client.send(frame(1, 1, bytesOf("06 00 05 00 01")))
			<-device.entered
			Expect(server.Close()).To(Succeed())
			Expect(device.gaveUp.Load()).To(Equal(int64(1)))
			client.Close()
			expectNoLeak()
		})
	}

	It("frees the port", func() {
		units := map[byte]modbus.Device{1: newMemory(10)}
		server := serve(units, modbus.Options{})
		client := dial(server)
		client.expectSaneHere()
		Expect(server.Close()).To(Succeed())
		again, err := modbus.Listen(server.Addr().String(), units, modbus.Options{})
		Expect(err).NotTo(HaveOccurred())
		Expect(again.Close()).To(Succeed())
	})
})

var _ = Describe("what a server tells", func() {
	It("counts by function", func() {
		server := serveOne(newMemory(10))
		client := dial(server)
		client.exchange(bytesOf("03 00 00 00 01"))
		client.exchange(bytesOf("03 00 00 00 01"))
		client.exchange(bytesOf("06 00 63 00 01"))
		stats := server.Stats()
		Expect(stats.Requests).To(Equal(uint64(3)))
		Expect(stats.Exceptions).To(Equal(uint64(1)))
		Expect(stats.Functions[3]).To(Equal(uint64(2)))
		Expect(stats.Functions[6]).To(Equal(uint64(1)))
		Expect(stats.Accepted).To(Equal(uint64(1)))
		Expect(stats.Open).To(Equal(1))
	})

	It("records each exchange before the client sees the reply", func() {
		var tick atomic.Int64
		records := make(chan modbus.Exchange, 10)
		server := serve(map[byte]modbus.Device{1: newMemory(10), 2: newMemory(10)}, modbus.Options{
			Controller: 3,
			Now:        func() time.Duration { return time.Duration(tick.Add(1)) * time.Second },
			Record: func(e modbus.Exchange) {
				e.Request, e.Reply = append([]byte(nil), e.Request...), append([]byte(nil), e.Reply...)
				records <- e
			},
		})
		client := dial(server)
		burst := append(frame(1, 1, bytesOf("03 00 00 00 01")), frame(2, 2, bytesOf("06 00 63 00 01"))...)
		client.send(append(burst, frame(3, 0, bytesOf("06 00 03 00 01"))...))
		client.receive()
		client.receive()

		first, second, third := <-records, <-records, <-records
		Expect(first.Request).To(Equal(bytesOf("00 01 00 00 00 06 01 03 00 00 00 01")))
		Expect(first.Reply).To(Equal(bytesOf("00 01 00 00 00 05 01 03 02 00 00")))
		Expect(first.Unit).To(Equal(byte(1)))
		Expect(first.Function).To(Equal(byte(3)))
		Expect(first.Asked).To(Equal(time.Second))
		Expect(first.Answered).To(Equal(2 * time.Second))
		Expect(first.Peer.Controller).To(Equal(3))
		Expect(first.Peer.Conn).To(Equal(uint64(1)))
		Expect(first.Peer.Remote).To(Equal(client.LocalAddr().String()))
		Expect(second.Reply).To(Equal(bytesOf("00 02 00 00 00 03 02 86 02")))
		Expect(second.Exception).To(Equal(modbus.IllegalDataAddress))
		Expect(third.Unit).To(BeZero())
		Expect(third.Reply).To(BeEmpty())
	})

	DescribeTable("sends the replies to ten requests of one segment in few writes",
		func(maxPipelined, writes int) {
			server := serve(map[byte]modbus.Device{1: newMemory(10)}, modbus.Options{MaxPipelined: maxPipelined})
			near, far := net.Pipe()
			counted := &countingConn{Conn: far}
			server.Admit(counted)
			client := wire{near}
			defer client.Close()
			var burst []byte
			for i := range 10 {
				burst = append(burst, frame(uint16(i), 1, bytesOf("03 00 00 00 01"))...)
			}
			client.send(burst)
			for range 10 {
				client.receive()
			}
			Expect(counted.writes.Load()).To(Equal(int64(writes)))
		},
		Entry("one, by default", 0, 1),
		Entry("three, if four may be gathered", 4, 3),
	)
})

// countingConn counts writes.
type countingConn struct {
	net.Conn
	writes atomic.Int64
}

func (c *countingConn) Write(raw []byte) (int, error) {
	c.writes.Add(1)
	return c.Conn.Write(raw)
}
