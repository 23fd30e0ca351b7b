package emulator_test

import (
	"bytes"
	"math/rand/v2"
	"net"
	"sync"
	"sync/atomic"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
)

// wholeRead asks unit 1 for as much as one request may.
var wholeRead = []byte{0, 1, 0, 0, 0, 6, 1, 3, 0x9C, 0x40, 0, 125}

// manners are the ways of a hostile client. Each works on one connection until that ends.
var manners = [...]struct {
	name string
	work func(conn net.Conn, noise *rand.Rand)
}{
	{"slow-loris", func(conn net.Conn, _ *rand.Rand) {
		for i := 0; ; i = (i + 1) % len(wholeRead) {
			if _, err := conn.Write(wholeRead[i : i+1]); err != nil || hangsUp(conn, time.Second) {
				return
			}
		}
	}},
	{"garbage", func(conn net.Conn, noise *rand.Rand) {
		for {
			chunk := make([]byte, 1+noise.IntN(600))
			for i := range chunk {
				chunk[i] = byte(noise.Uint32())
			}
			if _, err := conn.Write(chunk); err != nil || hangsUp(conn, 100*time.Millisecond) {
				return
			}
		}
	}},
	{"never reading", func(conn net.Conn, _ *rand.Rand) {
		burst := bytes.Repeat(wholeRead, 100)
		for {
			if _, err := conn.Write(burst); err != nil {
				return
			}
		}
	}},
	{"half a frame", func(conn net.Conn, _ *rand.Rand) {
		if _, err := conn.Write(wholeRead[:9]); err == nil {
			hangsUp(conn, time.Hour)
		}
	}},
}

// hangsUp reads for so long, and says whether the server ended the connection.
func hangsUp(conn net.Conn, within time.Duration) bool {
	if conn.SetReadDeadline(time.Now().Add(within)) != nil {
		return true
	}
	var some [512]byte
	for {
		_, err := conn.Read(some[:])
		if timeout, is := err.(net.Error); is && timeout.Timeout() {
			return false
		}
		if err != nil {
			return true
		}
	}
}

// hostility counts what hostile clients did: connections opened, and those that the server ended.
type hostility struct {
	opened, cutOff [len(manners)]atomic.Int64
}

// gather has n hostile clients, of all manners alike, come to the addresses one after the other within a second.
// Each returns up to a second after it was cut off. What it returns sends them away and waits until they are gone.
func (h *hostility) gather(addresses []string, n int) (disperse func()) {
	leave := make(chan struct{})
	var all sync.WaitGroup
	var arrived sync.WaitGroup
	begun := time.Now()
	for i := range n {
		address := addresses[i/len(manners)%len(addresses)]
		arrived.Add(1)
		first := sync.OnceFunc(arrived.Done)
		all.Go(func() {
			defer first()
			noise := rand.New(rand.NewPCG(uint64(i), 7))
			time.Sleep(time.Until(begun.Add(time.Duration(i) * time.Second / time.Duration(n))))
			for h.visit(address, i%len(manners), noise, leave, first) {
				select {
				case <-leave:
					return
				case <-time.After(time.Duration(noise.Int64N(int64(time.Second)))):
				}
			}
		})
	}
	arrived.Wait()
	return func() {
		close(leave)
		all.Wait()
	}
}

// visit is one connection of a hostile client; false when it is to leave or cannot come.
func (h *hostility) visit(address string, kind int, noise *rand.Rand, leave <-chan struct{}, arrived func()) bool {
	conn, err := net.Dial("tcp", address)
	if err != nil {
		return false
	}
	// What the system keeps for a peer that does not read is to be the server's concern here, and not the client's.
	_ = conn.(*net.TCPConn).SetWriteBuffer(16 << 10)
	h.opened[kind].Add(1)
	arrived()
	done := make(chan struct{})
	go func() {
		defer close(done)
		manners[kind].work(conn, noise)
	}()
	select {
	case <-leave:
		conn.Close()
		<-done
		return false
	case <-done:
		h.cutOff[kind].Add(1)
		conn.Close()
		return true
	}
}

var _ = Describe("a hostile client of a bench", func() {
	It("of each manner is cut off, and the device answers on", func() {
		b := open(street(1, time.Hour), emulator.Options{Pace: emulator.Real})
		play(b, nil)
		good := pollers(b, 1)
		var crowd hostility
		disperse := crowd.gather(addresses(b), 2*len(manners))
		defer disperse()
		Eventually(func(g Gomega) {
			g.Expect(good[0].poll()).To(Succeed())
			for kind := range manners {
				g.Expect(crowd.cutOff[kind].Load()).To(BeNumerically(">", 0), manners[kind].name)
			}
		}).WithTimeout(30 * time.Second).WithPolling(50 * time.Millisecond).Should(Succeed())
	})
})
