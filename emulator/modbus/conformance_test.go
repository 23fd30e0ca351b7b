package modbus_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// refuser answers a read at an address with the exception of that number.
type refuser struct{ *memory }

func (r refuser) ReadRegisters(_ modbus.Peer, _ modbus.Table, address uint16, _ []uint16) error {
	return modbus.Exception(address)
}

// world is the set of units that the cases are written for.
type world struct{ one, two, three, five *memory }

func newWorld() *world {
	w := &world{newMemory(1184), newMemory(65536), newMemory(8), newMemory(65536)}
	w.fill(65536)
	return w
}

func (w *world) units() map[byte]modbus.Device {
	return map[byte]modbus.Device{1: w.one, 2: w.two, 3: plain{w.three}, 4: refuser{w.one}, 5: w.five}
}

// reset undoes what a case has written, at either end of a table.
func (w *world) reset() { w.fill(2048) }

// fill gives that many values at either end of each table what the cases expect.
func (w *world) fill(edge int) {
	for _, m := range []*memory{w.one, w.two, w.three, w.five} {
		m.mutex.Lock()
		m.queue = []uint16{440, 4740}
		m.objects = []string{"Oven", "north", "1."}
		for i := 0; i < len(m.holding); i++ {
			if i == edge {
				i = max(i, len(m.holding)-edge)
			}
			if m == w.five {
				m.holding[i], m.input[i] = 0xA5A5, 0xA5A5
				continue
			}
			m.holding[i], m.input[i] = uint16(i), 0x8000+uint16(i)
			m.coils[i], m.inputs[i] = i%2 == 1, i%3 == 0
		}
		m.mutex.Unlock()
	}
}

// wireCase is one line of the tables.
type wireCase struct {
	name  string
	steps []step
}

type step struct {
	request, reply []byte
	closed         bool // the connection must end after the reply
}

// expand reads hex digits with repetitions (FF*20) and checksums (~, over what
// follows the last bar).
func expand(text string) []byte {
	var raw []byte
	for _, part := range strings.Split(text, "|") {
		var piece []byte
		for _, word := range strings.Fields(part) {
			if word == "~" {
				piece = sealed(piece)
				continue
			}
			digits, times, repeated := strings.Cut(word, "*")
			count := 1
			if repeated {
				var err error
				if count, err = strconv.Atoi(times); err != nil {
					panic(err)
				}
			}
			piece = append(piece, bytes.Repeat(bytesOf(digits), count)...)
		}
		raw = append(raw, piece...)
	}
	return raw
}

func parseCases(table string) []wireCase {
	var cases []wireCase
	for line := range strings.Lines(strings.TrimSpace(table)) {
		name, rest, _ := strings.Cut(line, ": ")
		c := wireCase{name: strings.TrimSpace(name)}
		for _, part := range strings.Split(rest, ";") {
			request, reply, both := strings.Cut(part, ">")
			if !both {
				panic("no reply in " + line)
			}
			reply, closed := strings.CutSuffix(strings.TrimSpace(reply), "closed")
			if reply == "none" {
				reply = ""
			}
			c.steps = append(c.steps, step{expand(request), expand(reply), closed})
		}
		cases = append(cases, c)
	}
	return cases
}

// hush is how long the suite listens for a reply that must not come.
const hush = 40 * time.Millisecond

// play runs one case and returns what went wrong.
func play(link io.ReadWriter, deadline func(time.Time) error, c wireCase, framed func(pdu []byte) []byte) error {
	for i, s := range c.steps {
		if err := deadline(time.Now().Add(3 * time.Second)); err != nil {
			return err
		}
		want := s.reply
		if len(want) > 0 {
			want = framed(want)
		}
		if _, err := link.Write(framed(s.request)); err != nil {
			return fmt.Errorf("step %d: %w", i+1, err)
		}
		got := make([]byte, len(want))
		if n, err := io.ReadFull(link, got); err != nil || !bytes.Equal(got, want) {
			return fmt.Errorf("step %d: got % X (%v) in place of % X", i+1, got[:n], err, want)
		}
		if len(want) > 0 && !s.closed {
			continue
		}
		if !s.closed {
			_ = deadline(time.Now().Add(hush))
		}
		n, err := link.Read(make([]byte, 1))
		switch {
		case n > 0:
			return fmt.Errorf("step %d: more came than must", i+1)
		case s.closed && errors.Is(err, os.ErrDeadlineExceeded):
			return fmt.Errorf("step %d: the connection is still open", i+1)
		case !s.closed && !errors.Is(err, os.ErrDeadlineExceeded):
			return fmt.Errorf("step %d: %w in place of silence", i+1, err)
		}
	}
	return nil
}

var _ = Describe("the wire cases", func() {
	asIs := func(raw []byte) []byte { return raw }
	mbap := func(unitAndPDU []byte) []byte { return frame(0x0A0B, unitAndPDU[0], unitAndPDU[1:]) }
	sane := parseCases("sane: 01 03 0000 0001 > 01 03 02 0000")[0]

	It("are at least 150, each with a name of its own", func() {
		var names []string
		for _, table := range []string{unitCases, tcpCases, rtuCases} {
			for _, c := range parseCases(table) {
				names = append(names, c.name)
			}
		}
		slices.Sort(names)
		Expect(len(slices.Compact(slices.Clone(names)))).To(BeNumerically(">=", len(names)-6), "few names are shared between tables")
		Expect(len(names)).To(BeNumerically(">=", 150))
	})

	It("hold over TCP, with a sane read on the connection and on another after each", func() {
		w := newWorld()
		server := serve(w.units(), modbus.Options{})
		run := func(c wireCase, framed func([]byte) []byte) error {
			w.reset()
			conn, err := net.Dial("tcp", server.Addr().String())
			if err != nil {
				return err
			}
			defer conn.Close()
			if err := play(conn, conn.SetDeadline, c, framed); err != nil {
				return err
			}
			w.reset()
			if !c.steps[len(c.steps)-1].closed {
				if err := play(conn, conn.SetDeadline, sane, mbap); err != nil {
					return fmt.Errorf("sane read: %w", err)
				}
			}
			other, err := net.Dial("tcp", server.Addr().String())
			if err != nil {
				return err
			}
			defer other.Close()
			return play(other, other.SetDeadline, sane, mbap)
		}
		var wrong []string
		units, raw := parseCases(unitCases), parseCases(tcpCases)
		for _, c := range units {
			if err := run(c, mbap); err != nil {
				wrong = append(wrong, c.name+": "+err.Error())
			}
		}
		for _, c := range raw {
			if err := run(c, asIs); err != nil {
				wrong = append(wrong, c.name+": "+err.Error())
			}
		}
		AddReportEntry(fmt.Sprintf("over TCP: %d cases, %d wrong", len(units)+len(raw), len(wrong)))
		Expect(wrong).To(BeEmpty())
	})

	for _, how := range []string{pseudoTerminal, "over TCP"} {
		It("hold in RTU "+how+", with a sane read after each", func() {
			w := newWorld()
			server := serveRTU(how, w.units())
			client := open(server)
			once := func(c wireCase, framed func([]byte) []byte) error {
				w.reset()
				err := play(client, client.deadline.SetDeadline, c, framed)
				w.reset()
				if err != nil {
					return err
				}
				if err = play(client, client.deadline.SetDeadline, sane, sealed); err != nil {
					return fmt.Errorf("sane read: %w", err)
				}
				return nil
			}
			var wrong []string
			run := func(c wireCase, framed func([]byte) []byte) {
				err := once(c, framed)
				if err != nil {
					// The host may have let the server sleep through a silence.
					unheard.Add(1)
					client.Close()
					time.Sleep(3 * hush)
					client = open(server)
					err = once(c, framed)
				}
				if err != nil {
					wrong = append(wrong, c.name+": "+err.Error())
				}
			}
			units, raw := parseCases(unitCases), parseCases(rtuCases)
			for _, c := range units {
				run(c, sealed)
			}
			for _, c := range raw {
				run(c, asIs)
			}
			AddReportEntry(fmt.Sprintf("in RTU %s: %d cases, %d wrong", how, len(units)+len(raw), len(wrong)))
			Expect(wrong).To(BeEmpty())
		})
	}
})
