package modbus

// NewServer makes a server that listens nowhere. Only clients of its own process reach it, see Local.
func NewServer(units map[byte]Device, opt Options) (*Server, error) {
	s, err := newServer("no address", units, opt.withDefaults(), nil)
	if err != nil {
		return nil, err
	}
	s.address = inside{}
	return s, nil
}

// inside is the address of what no socket leads to.
type inside struct{}

// Network names the kind of address.
func (inside) Network() string { return "inside" }

// String is empty: there is nothing to dial.
func (inside) String() string { return "" }

// Local is a client in the server's own process. Its requests are checked, let in, faulted and recorded as those
// of a connection are, in its caller's goroutine and without a socket. It is for one goroutine.
type Local struct{ on *connection }

// Local connects such a client. Its requests have this controller's number in place of the options'.
func (s *Server) Local(controller int) (*Local, error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if s.closed || len(s.open) >= s.options.MaxConnections || s.turnsAway() {
		s.stats.refused.Add(1)
		return nil, ErrClose
	}
	done := make(chan struct{})
	c := &connection{
		server: s,
		peer:   Peer{Conn: s.stats.accepted.Add(1), Remote: inside{}.Network(), Controller: controller, Done: done},
		done:   done,
		image:  newImage(),
	}
	c.frames = mbap{c}
	s.open[c] = struct{}{}
	return &Local{c}, nil
}

// Ask carries out a request, an MBAP frame, and returns the reply's frame, which is valid until the next request. The
// reply is empty where none is given. An error ends the connection, as ErrClose and ErrReset do on the wire; what was
// sent before it may stand in the reply.
func (l *Local) Ask(request []byte) (reply []byte, err error) {
	c := l.on
	if !c.server.begin(c) {
		return nil, ErrClose
	}
	defer c.server.running.Done()
	c.out, c.pending = c.out[:0], 0
	if err := c.answer(c.request[:copy(c.request[:], request)]); err != nil {
		l.Close()
		return c.out, err
	}
	return c.out, nil
}

// Close ends the connection.
func (l *Local) Close() {
	c := l.on
	c.cancel()
	c.server.mutex.Lock()
	delete(c.server.open, c)
	c.server.mutex.Unlock()
}

// begin counts a request among what Close waits for, unless its connection or the server has ended.
func (s *Server) begin(c *connection) bool {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if _, open := s.open[c]; !open || s.closed {
		return false
	}
	s.running.Add(1)
	return true
}

// isLocal tells that a connection has no socket.
func (c *connection) isLocal() bool { return c.net == nil }
