package modbus

import "net"

// Admit serves a connection that did not come through the listener.
func (s *Server) Admit(conn net.Conn) { s.admit(conn) }
