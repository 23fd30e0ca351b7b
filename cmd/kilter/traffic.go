package main

import (
	"fmt"
	"os"
	"path/filepath"
)

// trafficFile is the record of the traffic while it is written, beside the place where it is to
// stand: it may be large, so it is moved and not copied.
type trafficFile struct {
	folder string
	half   *os.File
}

func newTrafficFile(folder string) (*trafficFile, error) {
	if err := makeFolder(os.MkdirAll, folder); err != nil {
		return nil, err
	}
	half, err := os.CreateTemp(folder, ".half-*")
	if err != nil {
		return nil, fmt.Errorf("run folder: %w", err)
	}
	return &trafficFile{folder, half}, nil
}

// keep gives the file its name, whole.
func (t *trafficFile) keep() error {
	err := t.half.Chmod(0o644)
	if closing := t.half.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = os.Rename(t.half.Name(), filepath.Join(t.folder, "traffic.pcap"))
	}
	if err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	return nil
}

// drop removes what was not kept.
func (t *trafficFile) drop() {
	t.half.Close()
	os.Remove(t.half.Name())
}
