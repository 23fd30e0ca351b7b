package fieldlog

import (
	"fmt"
	"io"
	"os"
)

// Format reads one kind of file. To add one, write a file with a Format in it and list it below.
type Format struct {
	Name  string
	Knows func(head []byte) bool // by the first bytes
	Read  func(file string, in *os.File, size int64) (*Table, error)
}

// formats are tried in this order; the last takes what no other knows.
var formats = []Format{parquetFormat, tableFormat}

const (
	// maxBytes bounds a file; a week of ten columns each second is about 50 MB.
	maxBytes = 512 << 20
	// maxCells bounds what is held in memory, 8 bytes each.
	maxCells = 40 << 20
	headSize = 64 << 10
)

// ReadFile reads a log of any known format.
func ReadFile(file string) (*Table, error) {
	in, err := os.Open(file)
	if err != nil {
		return nil, bad(file, 0, "", "no file that can be read", "a log: CSV or Parquet", "")
	}
	defer in.Close()
	info, err := in.Stat()
	switch {
	case err != nil || info.IsDir():
		return nil, bad(file, 0, "", "a folder", "a log: CSV or Parquet", "")
	case info.Size() == 0:
		return nil, bad(file, 0, "", "an empty file", "a log: CSV or Parquet", "")
	case info.Size() > maxBytes:
		return nil, bad(file, 0, "", fmt.Sprintf("%.1f GiB", float64(info.Size())/(1<<30)), fmt.Sprintf("at most %d MiB", maxBytes>>20),
			"cut out the hours around the oscillation; a day of ten columns each second is 10 MB")
	}
	head := make([]byte, min(headSize, info.Size()))
	if _, err := io.ReadFull(in, head); err != nil {
		return nil, bad(file, 0, "", "a file that cannot be read", "a log", err.Error())
	}
	if _, err := in.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	for _, f := range formats {
		if f.Knows(head) {
			return f.Read(file, in, info.Size())
		}
	}
	return nil, bad(file, 0, "", "a file of an unknown format", "CSV or Parquet", "")
}
