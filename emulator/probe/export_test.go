package probe

import (
	"context"
	"time"
)

// Ask lets a test try functions that nothing in the package asks for.
func (l *Link) Ask(function byte, data []byte) ([]byte, error) {
	return l.ask(context.Background(), function, data)
}

// Patience changes how long a reply may take, once the connection stands.
func (l *Link) Patience(d time.Duration) { l.handler.Timeout = d }

// Decode decodes a model without a device.
func Decode(id uint16, words []uint16) Model {
	m := Model{ID: id}
	m.decode(words)
	return m
}
