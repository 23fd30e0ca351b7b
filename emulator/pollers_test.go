package emulator_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"net"
	"slices"
	"sync"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
)

// poller is one client that asks one device at fixed instants, over one connection. It is plain sockets, so
// that a thousand of them cost less than what they measure.
type poller struct {
	name    string
	unit    byte
	conn    net.Conn
	asked   uint16 // transactions so far
	reply   [260]byte
	took    []time.Duration
	problem error // the first one; the poller ends with it
}

// pollers connects n clients to the bench's devices in turn, and has each see that it reached the right one.
func pollers(b *emulator.Bench, n int) []*poller {
	GinkgoHelper()
	devices := b.File().Devices
	all := make([]*poller, n)
	for i := range all {
		d := devices[i%len(devices)]
		conn, err := net.Dial("tcp", d.Address)
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(conn.Close)
		all[i] = &poller{name: d.Name, unit: d.Unit, conn: conn}
		serial, err := all[i].read(40052, 16) // model 1's SN, from base 40000
		Expect(err).NotTo(HaveOccurred())
		Expect(string(bytes.TrimRight(serial, "\x00"))).To(Equal(d.Name))
	}
	return all
}

// patience is how long a client waits before it calls a missing reply an error: a busy machine is none.
const patience = 30 * time.Second

// read asks for holding registers and returns their bytes, valid until the next call.
func (p *poller) read(address, count uint16) ([]byte, error) {
	p.asked++
	var request [12]byte
	binary.BigEndian.PutUint16(request[0:], p.asked)
	request[5], request[6], request[7] = 6, p.unit, 3
	binary.BigEndian.PutUint16(request[8:], address)
	binary.BigEndian.PutUint16(request[10:], count)
	if err := p.conn.SetDeadline(time.Now().Add(patience)); err != nil {
		return nil, err
	}
	if _, err := p.conn.Write(request[:]); err != nil {
		return nil, err
	}
	size := 2 * int(count)
	got := p.reply[:9+size]
	if _, err := io.ReadFull(p.conn, got); err != nil {
		return nil, err
	}
	want := [...]byte{request[0], request[1], 0, 0, 0, byte(3 + size), p.unit, 3, byte(size)}
	if !bytes.Equal(got[:9], want[:]) {
		return nil, fmt.Errorf("reply %d begins % X instead of % X", p.asked, got[:9], want)
	}
	return got[9:], nil
}

// poll reads the inverter's model once, and notes how long it took.
func (p *poller) poll() error {
	begun := time.Now()
	got, err := p.read(40070, 10)
	if err != nil {
		return fmt.Errorf("%s: poll %d: %w", p.name, len(p.took), err)
	}
	p.took = append(p.took, time.Since(begun))
	if head := [...]byte{0, 103, 0, 50}; !bytes.Equal(got[:4], head[:]) {
		return fmt.Errorf("%s: poll %d: model and length % X instead of % X", p.name, len(p.took), got[:4], head)
	}
	return nil
}

// pollFor has all of them poll once a period, spread evenly over it, and returns how long each poll took,
// in ascending order.
func pollFor(all []*poller, lasts, period time.Duration) []time.Duration {
	GinkgoHelper()
	polls := int(lasts / period)
	start := time.Now()
	var done sync.WaitGroup
	for i, p := range all {
		p.took = make([]time.Duration, 0, polls)
		first := start.Add(time.Duration(i) * period / time.Duration(len(all)))
		done.Go(func() {
			for k := range polls {
				time.Sleep(time.Until(first.Add(time.Duration(k) * period)))
				if p.problem = p.poll(); p.problem != nil {
					return
				}
			}
		})
	}
	done.Wait()
	var took []time.Duration
	for _, p := range all {
		Expect(p.problem).NotTo(HaveOccurred())
		took = append(took, p.took...)
	}
	Expect(took).To(HaveLen(polls * len(all)))
	slices.Sort(took)
	return took
}

// share is the value that so much of an ascending list does not exceed.
func share(ascending []time.Duration, part float64) time.Duration {
	return ascending[int(part*float64(len(ascending)-1))]
}
