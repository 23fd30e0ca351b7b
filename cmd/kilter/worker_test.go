package main

import (
	"fmt"
	"net"
	"os"
	"strconv"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/rogpeppe/go-internal/testscript"
)

// natsd is this test binary as a NATS server: the folder of its streams, and its port. Where a third word is given it asks for
// that as the password of the user kilter.
func natsd() {
	port, err := strconv.Atoi(os.Args[2])
	if err != nil {
		panic(err)
	}
	opt := &server.Options{Host: "127.0.0.1", Port: port, JetStream: true, StoreDir: os.Args[1], NoLog: true}
	if len(os.Args) > 3 {
		opt.Username, opt.Password = "kilter", os.Args[3]
	}
	s, err := server.NewServer(opt)
	if err != nil {
		panic(err)
	}
	s.Start()
	if !s.ReadyForConnections(20 * time.Second) {
		panic("the server does not start")
	}
	s.WaitForShutdown()
}

// free puts a port that nobody listened on a moment ago into a variable.
func free(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: free NAME")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ts.Check(err)
	ts.Setenv(args[0], fmt.Sprint(l.Addr().(*net.TCPAddr).Port))
	ts.Check(l.Close())
}

// listens waits until somebody listens on a port of this machine.
func listens(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: listens PORT")
	}
	for range 500 {
		c, err := net.Dial("tcp", net.JoinHostPort("127.0.0.1", args[0]))
		if err == nil {
			ts.Check(c.Close())
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	ts.Fatalf("nobody listens on port %s", args[0])
}
