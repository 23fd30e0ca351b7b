package main

import (
	"bytes"
	"strings"
	"testing"
)

// A controller may print without end; what it says first and last is kept.
func TestCappedLog(t *testing.T) {
	line := []byte(strings.Repeat("x", 999) + "\n")
	var log cappedLog
	written := 0
	for written < maxLog+10*maxTail {
		log.Write(line)
		written += len(line)
	}
	log.Write([]byte("the last words\n"))
	written += len("the last words\n")
	kept := log.kept()
	if !bytes.HasPrefix(kept, line) || !bytes.HasSuffix(kept, []byte("x\nthe last words\n")) {
		t.Error("the beginning or the end is missing")
	}
	if len(kept) > maxLog+maxTail+100 || !bytes.Contains(kept, []byte("bytes are not kept here")) {
		t.Errorf("%d of %d bytes are kept", len(kept), written)
	}
	var short cappedLog
	short.Write(line)
	if !bytes.Equal(short.kept(), line) {
		t.Error("a short log is not kept as it is")
	}
}
