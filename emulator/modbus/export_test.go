package modbus

import (
	"bufio"
	"bytes"
	"net"
	"time"
)

// Admit serves a connection that did not come through the listener.
func (s *Server) Admit(conn net.Conn) { s.admit(conn) }

// Piece is what arrives on a line at once, after a pause.
type Piece struct {
	Pause time.Duration
	Bytes []byte
}

// pieces reads one piece at a time.
type pieces struct{ current bytes.Reader }

func (p *pieces) Read(into []byte) (int, error) { return p.current.Read(into) }

// RequestsIn finds the requests (unit and PDU) that a line of 19200 baud
// hears in pieces, without waiting for any pause to pass.
func RequestsIn(stream []Piece, giveUp time.Duration) (found [][]byte) {
	source := &pieces{}
	c := &connection{server: &Server{}, in: bufio.NewReaderSize(source, 4096)}
	line := newRTU(c, 19200)
	collect := func(silent bool) {
		for {
			adu := line.find(silent)
			if adu == nil {
				return
			}
			found = append(found, bytes.Clone(adu[prefixLength:]))
		}
	}
	silence := func() {
		collect(true)
		line.deaf = false
	}
	for _, piece := range stream {
		if piece.Pause >= giveUp {
			silence()
		}
		line.last = time.Now().Add(-piece.Pause)
		for source.current.Reset(piece.Bytes); source.current.Len() > 0; {
			_, _ = c.in.Peek(c.in.Buffered() + 1)
			line.account()
			collect(false)
		}
	}
	silence()
	return found
}
