package capture_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/capture"
)

var starts = time.Date(2026, 1, 20, 5, 0, 0, 0, time.UTC)

// read lists a file's packets, one a line: time, from, to, flags, sequence numbers and payload.
func read(file []byte) []string {
	GinkgoHelper()
	r, err := pcapgo.NewReader(bytes.NewReader(file))
	Expect(err).NotTo(HaveOccurred())
	var lines []string
	for {
		data, info, err := r.ReadPacketData()
		if errors.Is(err, io.EOF) {
			return lines
		}
		Expect(err).NotTo(HaveOccurred())
		packet := gopacket.NewPacket(data, layers.LayerTypeEthernet, gopacket.Default)
		Expect(packet.ErrorLayer()).To(BeNil())
		ip := packet.Layer(layers.LayerTypeIPv4).(*layers.IPv4)
		tcp := packet.Layer(layers.LayerTypeTCP).(*layers.TCP)
		Expect(tcp.SetNetworkLayerForChecksum(ip)).To(Succeed())
		err, wrong := packet.VerifyChecksums()
		Expect(err).NotTo(HaveOccurred())
		Expect(wrong).To(BeEmpty())
		var says []string
		for _, f := range []struct {
			set  bool
			name string
		}{{tcp.SYN, "S"}, {tcp.FIN, "F"}, {tcp.RST, "R"}, {tcp.PSH, "P"}, {tcp.ACK, "A"}} {
			if f.set {
				says = append(says, f.name)
			}
		}
		lines = append(lines, strings.TrimSpace(fmt.Sprintf("%v %v:%d > %v:%d %s %d/%d %s", info.Timestamp.Sub(starts), ip.SrcIP, uint16(tcp.SrcPort),
			ip.DstIP, uint16(tcp.DstPort), strings.Join(says, ""), tcp.Seq, tcp.Ack, tcp.Payload)))
	}
}

var _ = Describe("the file of a run", func() {
	var (
		file bytes.Buffer
		r    *capture.Recorder
	)
	clock, north, south := capture.Connection{Endpoint: 0, Number: 1}, capture.Connection{Endpoint: 1, Number: 1}, capture.Connection{Endpoint: 2, Number: 3}
	BeforeEach(func() {
		file.Reset()
		r = capture.New(&file, starts)
	})
	lines := func() []string {
		GinkgoHelper()
		Expect(r.Close()).To(Succeed())
		return read(file.Bytes())
	}
	// exchange asks and is answered at once.
	exchange := func(at time.Duration, c capture.Connection, request, reply string) {
		r.Ask(at, c, []byte(request))
		r.Answer(at, c, []byte(request), []byte(reply), capture.Stays)
	}

	It("shows a connection's handshake, and its frames with sequence numbers that count their bytes", func() {
		exchange(0, south, "ask", "answer")
		exchange(1500*time.Millisecond, south, "more", "")
		Expect(lines()).To(Equal([]string{
			"0s 127.0.0.1:49154 > 127.0.0.4:502 S 0/0",
			"0s 127.0.0.4:502 > 127.0.0.1:49154 SA 0/1",
			"0s 127.0.0.1:49154 > 127.0.0.4:502 A 1/1",
			"0s 127.0.0.1:49154 > 127.0.0.4:502 PA 1/1 ask",
			"0s 127.0.0.4:502 > 127.0.0.1:49154 PA 1/4 answer",
			"1.5s 127.0.0.1:49154 > 127.0.0.4:502 PA 4/7 more",
		}))
	})

	It("ends a connection that the server closes or resets", func() {
		r.Answer(0, north, []byte("q"), nil, capture.HangsUp)
		r.Answer(0, south, []byte("q"), []byte("rubbish"), capture.Resets)
		Expect(lines()).To(ContainElements(
			"0s 127.0.0.3:502 > 127.0.0.1:49152 FA 1/2",
			"0s 127.0.0.1:49152 > 127.0.0.3:502 FA 2/2",
			"0s 127.0.0.3:502 > 127.0.0.1:49152 A 2/3",
			"0s 127.0.0.4:502 > 127.0.0.1:49154 PA 1/2 rubbish",
			"0s 127.0.0.4:502 > 127.0.0.1:49154 RA 8/2",
		))
	})

	It("puts replies to earlier requests first and what waits for a reply last", func() {
		r.Ask(0, clock, []byte("wait"))
		exchange(0, north, "a", "b")
		r.Answer(time.Second, clock, []byte("wait"), []byte("waited"), capture.Stays)
		exchange(time.Second, north, "c", "d")
		var texts []string
		for _, l := range lines() {
			if text := l[strings.LastIndex(l, " ")+1:]; strings.Contains(l, " PA ") {
				texts = append(texts, text)
			}
		}
		Expect(texts).To(Equal([]string{"a", "b", "wait", "waited", "c", "d"}))
	})

	It("is the same file, in whatever order the connections of an instant came", func() {
		play := func(first, second capture.Connection) []byte {
			file.Reset()
			r = capture.New(&file, starts)
			for at := range 5 {
				r.Ask(time.Duration(at)*time.Second, first, []byte(fmt.Sprint(first)))
				exchange(time.Duration(at)*time.Second, second, fmt.Sprint(second), "s")
				r.Answer(time.Duration(at)*time.Second, first, nil, []byte("f"), capture.Stays)
			}
			Expect(r.Close()).To(Succeed())
			return bytes.ReplaceAll(bytes.Clone(file.Bytes()), []byte("f"), []byte("s"))
		}
		one, other := play(north, south), play(south, north)
		Expect(len(one)).To(Equal(len(other)))
		Expect(payloads(one)).To(Equal(payloads(other)))
	})

	It("splits what no packet holds", func() {
		exchange(0, north, strings.Repeat("x", 3000), "")
		Expect(lines()).To(HaveLen(3 + 3))
	})

	It("keeps bounded memory while time stands still and connections come without end", func() {
		for n := range uint64(10_000) {
			exchange(0, capture.Connection{Endpoint: 1, Number: n + 1}, "q", "a")
		}
		Expect(lines()).To(HaveLen(5 * 10_000))
	})

	It("stands still where time seems to go back", func() {
		exchange(2*time.Second, north, "q", "a")
		exchange(time.Second, south, "q", "a")
		for _, l := range lines() {
			Expect(l).To(HavePrefix("2s "))
		}
	})

	It("counts from 1970 where the start has no place in a file of 32-bit seconds", func() {
		r = capture.New(&file, time.Time{})
		exchange(0, north, "q", "a")
		Expect(lines()).NotTo(BeEmpty())
	})

	It("tells that the disk is full when it is closed", func() {
		r = capture.New(full{}, starts)
		exchange(0, north, strings.Repeat("x", 1<<17), "")
		exchange(time.Second, north, "x", "y")
		Expect(r.Close()).To(MatchError(ContainSubstring("the disk is full")))
	})
})

// payloads are what the packets of a file carry, without their checksums.
func payloads(file []byte) (all []string) {
	r, _ := pcapgo.NewReader(bytes.NewReader(file))
	for {
		data, _, err := r.ReadPacketData()
		if err != nil {
			return all
		}
		all = append(all, string(data[54:]))
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("the disk is full") }
