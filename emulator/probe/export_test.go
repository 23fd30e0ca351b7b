package probe

import "context"

// Ask lets a test try functions that nothing in the package asks for.
func (l *Link) Ask(function byte, data []byte) ([]byte, error) {
	return l.ask(context.Background(), function, data)
}

// Decode decodes a model without a device.
func Decode(id uint16, words []uint16) Model {
	m := Model{ID: id}
	m.decode(words)
	return m
}
