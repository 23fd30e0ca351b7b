package modbus

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"os"
	"time"
)

// maxASCII is the longest frame of MODBUS over Serial Line V1.02, 2.5.2: a
// colon, two characters a byte, carriage return and line feed.
const maxASCII = 1 + 2*(1+maxPDU+1) + 2

// ascii is the other framing of a serial line. A colon begins a frame wherever
// it comes, and a line feed ends it, so noise costs one frame at most.
type ascii struct {
	*connection
	expiry *time.Time // when a TCP client without a request is sent away
}

func newASCII(c *connection) ascii { return ascii{c, new(time.Time)} }

// ready is never true: the reply to a request on a line leaves by itself.
func (a ascii) ready() bool { return false }

func (a ascii) next() ([]byte, error) {
	*a.expiry = time.Now().Add(a.server.options.IdleTimeout)
	for {
		raw, _ := a.in.Peek(a.in.Buffered())
		if end := bytes.IndexByte(raw, '\n'); end >= 0 {
			adu := a.decode(raw[:end+1])
			_, _ = a.in.Discard(end + 1)
			if adu != nil {
				return adu, nil
			}
			a.server.stats.dropped.Add(1)
			continue
		}
		if len(raw) > maxASCII {
			_, _ = a.in.Discard(len(raw) - 1)
		}
		if err := a.listen(); err != nil {
			return nil, err
		}
	}
}

// listen waits for more bytes, and gives up a frame that pauses for too long.
func (a ascii) listen() error {
	had := a.in.Buffered()
	var deadline time.Time
	if a.line == nil {
		deadline = *a.expiry
	}
	if end := time.Now().Add(a.server.options.FrameTimeout); had > 0 && (deadline.IsZero() || end.Before(deadline)) {
		deadline = end
	}
	if err := a.net.SetReadDeadline(deadline); err != nil {
		return err
	}
	_, err := a.in.Peek(had + 1)
	if err == nil {
		if had == 0 && a.line != nil {
			a.line.greet()
		}
		return nil
	}
	if had > 0 && errors.Is(err, os.ErrDeadlineExceeded) && (a.line != nil || time.Now().Before(*a.expiry)) {
		_, err = a.in.Discard(had)
		a.server.stats.dropped.Add(1)
	}
	return err
}

// decode makes a line a request, or nil. The sum of all bytes, the last of
// which is the check, is 0 (appendix A of the standard).
func (a ascii) decode(raw []byte) []byte {
	start := bytes.LastIndexByte(raw, ':')
	text, ended := bytes.CutSuffix(raw[start+1:], []byte("\r\n"))
	if start < 0 || !ended || len(raw)-start > maxASCII {
		return nil
	}
	var frame [maxASCII / 2]byte
	n, err := hex.Decode(frame[:], text)
	if err != nil || n < 3 || sumOf(frame[:n]) != 0 {
		return nil
	}
	a.asked = len(raw) - start
	adu := append(a.request[:0], 0, 0, 0, 0)
	adu = binary.BigEndian.AppendUint16(adu, uint16(n-1))
	return append(adu, frame[:n-1]...)
}

func (a ascii) lay(out []byte, r reply) []byte {
	raw := append([]byte{r.unit, r.function}, r.data...)
	raw = append(raw, -sumOf(raw))
	out = append(out, ':')
	out = append(out, bytes.ToUpper(hex.AppendEncode(nil, raw))...)
	return append(out, '\r', '\n')
}

func sumOf(raw []byte) (sum byte) {
	for _, b := range raw {
		sum += b
	}
	return sum
}
