package queue

import (
	"errors"
	"fmt"

	"github.com/klauspost/compress/zstd"
)

// mostBody bounds what a message may unfold to: a scenario file of full size, and a few times over.
const mostBody = 4 << 20

var (
	packer, _   = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithLowerEncoderMem(true))
	unpacker, _ = zstd.NewReader(nil, zstd.WithDecoderConcurrency(0), zstd.WithDecoderMaxMemory(mostBody))
)

// pack makes a message of a body that the server will take.
func (q *Queue) pack(body []byte) ([]byte, error) {
	if len(body) > mostBody {
		return nil, fmt.Errorf("it takes %d bytes, and %d are the most", len(body), mostBody)
	}
	data := packer.EncodeAll(body, nil)
	if most := q.conn.MaxPayload(); most > 0 && int64(len(data)+headerRoom) > most {
		return nil, fmt.Errorf("it takes %d bytes even packed, and the server takes messages of up to %d (its max_payload)", len(data), most)
	}
	return data, nil
}

// headerRoom is what a message's headers may take.
const headerRoom = 256

// unpack undoes pack. It bears anything.
func unpack(data []byte) ([]byte, error) {
	body, err := unpacker.DecodeAll(data, nil)
	if err != nil {
		return nil, errors.New("a message that cannot be unpacked: " + err.Error())
	}
	return body, nil
}
