package capture

import (
	"encoding/binary"
	"io"
	"maps"
	"math"
	"net"
	"slices"
	"time"

	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"
)

const (
	serverPort = 502   // by which analysers know Modbus/TCP
	firstPort  = 49152 // of the clients: the first of the dynamic ports, RFC 6335
	ports      = 1<<16 - firstPort
	loopback   = 127<<24 | 1

	// longest is the payload of one packet, as on an Ethernet: 1500 bytes less two headers of 20.
	longest = 1460

	// maxStreams is how many connections are remembered. The half that has been silent longest is
	// then forgotten, and would begin with a handshake again; a server has at most some dozens open.
	maxStreams = 4096
)

// stream is where a connection's two byte streams stand.
type stream struct {
	client, server uint32 // the next sequence numbers
	used           int    // counts the packets when it was last used
}

// packets wraps frames into packets.
type packets struct {
	starts  time.Time
	file    *pcapgo.Writer
	buffer  gopacket.SerializeBuffer
	streams map[Connection]*stream
	count   int

	ethernet layers.Ethernet
	ip       layers.IPv4
	tcp      layers.TCP
}

func newPackets(w io.Writer, starts time.Time) (*packets, error) {
	if s := starts.Unix(); s < 0 || s > math.MaxUint32-1<<30 {
		starts = time.Unix(0, 0) // the file's seconds are 32 bits that count from 1970
	}
	p := &packets{starts: starts, file: pcapgo.NewWriter(w), buffer: gopacket.NewSerializeBuffer(), streams: map[Connection]*stream{}}
	p.ethernet.EthernetType = layers.EthernetTypeIPv4
	p.ip = layers.IPv4{Version: 4, TTL: 64, Protocol: layers.IPProtocolTCP, Flags: layers.IPv4DontFragment}
	return p, p.file.WriteFileHeader(1<<16, layers.LinkTypeEthernet)
}

// flags are what a packet says beside its bytes.
type flags struct{ syn, ack, push, fin, reset bool }

// write writes one frame, with the packets that its connection needs before and after it.
func (p *packets) write(at time.Duration, f frame, text []byte) error {
	s := p.streams[f.Connection]
	if s == nil {
		s = &stream{}
		p.remember(f.Connection, s)
		for _, hand := range [...]struct {
			reply bool
			flags flags
		}{{false, flags{syn: true}}, {true, flags{syn: true, ack: true}}, {false, flags{ack: true}}} {
			if err := p.send(at, f.Connection, s, hand.reply, hand.flags, nil); err != nil {
				return err
			}
		}
	}
	for piece := range slices.Chunk(text, longest) {
		if err := p.send(at, f.Connection, s, f.reply, flags{ack: true, push: true}, piece); err != nil {
			return err
		}
	}
	if f.end == Stays {
		return nil
	}
	delete(p.streams, f.Connection)
	if f.end == Resets {
		return p.send(at, f.Connection, s, true, flags{reset: true, ack: true}, nil)
	}
	for _, reply := range [...]bool{true, false} {
		if err := p.send(at, f.Connection, s, reply, flags{fin: true, ack: true}, nil); err != nil {
			return err
		}
	}
	return p.send(at, f.Connection, s, true, flags{ack: true}, nil)
}

// remember keeps a stream, and forgets those that have been silent longest where there are many.
func (p *packets) remember(c Connection, s *stream) {
	if len(p.streams) >= maxStreams {
		uses := make([]int, 0, len(p.streams))
		for _, x := range p.streams {
			uses = append(uses, x.used)
		}
		slices.Sort(uses)
		median := uses[len(uses)/2]
		maps.DeleteFunc(p.streams, func(_ Connection, x *stream) bool { return x.used < median })
	}
	p.streams[c] = s
}

// send writes one packet of a connection.
func (p *packets) send(at time.Duration, c Connection, s *stream, reply bool, says flags, text []byte) error {
	p.count++
	s.used = p.count
	client, server := host(loopback+uint32(c.Client)<<16), host(loopback+1+uint32(c.Endpoint))
	port := layers.TCPPort(firstPort + (c.Number-1)%ports)
	p.ip.SrcIP, p.ip.DstIP = client.ip, server.ip
	p.ethernet.SrcMAC, p.ethernet.DstMAC = client.mac, server.mac
	p.tcp = layers.TCP{SrcPort: port, DstPort: serverPort, Seq: s.client, Ack: s.server, Window: math.MaxUint16}
	next := &s.client
	if reply {
		p.ip.SrcIP, p.ip.DstIP = server.ip, client.ip
		p.ethernet.SrcMAC, p.ethernet.DstMAC = server.mac, client.mac
		p.tcp.SrcPort, p.tcp.DstPort, p.tcp.Seq, p.tcp.Ack = serverPort, port, s.server, s.client
		next = &s.server
	}
	p.tcp.SYN, p.tcp.ACK, p.tcp.PSH, p.tcp.FIN, p.tcp.RST = says.syn, says.ack, says.push, says.fin, says.reset
	if !says.ack {
		p.tcp.Ack = 0
	}
	*next += uint32(len(text))
	if says.syn || says.fin {
		*next++ // each counts as a byte
	}
	if err := p.tcp.SetNetworkLayerForChecksum(&p.ip); err != nil {
		return err
	}
	err := gopacket.SerializeLayers(p.buffer, gopacket.SerializeOptions{FixLengths: true, ComputeChecksums: true},
		&p.ethernet, &p.ip, &p.tcp, gopacket.Payload(text))
	if err != nil {
		return err
	}
	packet := p.buffer.Bytes()
	return p.file.WritePacket(gopacket.CaptureInfo{Timestamp: p.starts.Add(at), CaptureLength: len(packet), Length: len(packet)}, packet)
}

// place is where a host is on the made-up network.
type place struct {
	ip  net.IP
	mac net.HardwareAddr
}

// host gives an address, and a locally administered hardware address that ends with it.
func host(address uint32) place {
	mac := binary.BigEndian.AppendUint32([]byte{0x02, 0}, address)
	return place{ip: net.IP(mac[2:]), mac: net.HardwareAddr(mac)}
}
