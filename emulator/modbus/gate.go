package modbus

// Gate stands before all units of a server: it sees each request, to a unit that is served, and
// may answer in the unit's place. It is called by the goroutines of the connections.
type Gate interface {
	// Enter is called before a request is carried out. nil lets it through; an error ends it as
	// that of a Device would, and the unit does not hear of it. A wait must give up when
	// Peer.Done closes. Exchange has no reply yet.
	Enter(Exchange) error
	// Holds says whether Enter may take long now. Replies that are ready then leave before, and
	// the end of the connection closes Peer.Done meanwhile.
	Holds() bool
}

// enter asks the gate, if there is one.
func (c *connection) enter(x Exchange) error {
	gate := c.server.options.Gate
	switch {
	case gate == nil:
		return nil
	case !gate.Holds():
		return gate.Enter(x)
	}
	if c.flush() != nil {
		return ErrClose
	}
	return c.hold(func() error { return gate.Enter(x) })
}
