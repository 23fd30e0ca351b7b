package fieldlog

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// BenchmarkWeek reads and checks a week of a value each second, 604800 rows of six columns.
func BenchmarkWeek(b *testing.B) {
	sheet := soundLog().sheet()
	var text bytes.Buffer
	text.WriteString(sheet.header + "\n")
	at := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	for n := range 7 * 86400 {
		row := sheet.rows[n%len(sheet.rows)]
		text.WriteString(at.Add(time.Duration(n) * time.Second).Format("2006-01-02 15:04:05"))
		for _, cell := range row[1:] {
			text.WriteString("," + cell)
		}
		text.WriteByte('\n')
	}
	file := filepath.Join(b.TempDir(), "week.csv")
	if err := os.WriteFile(file, text.Bytes(), 0o600); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		l, err := use(file)
		if err != nil {
			b.Fatal(err)
		}
		if Check(l); l.Samples() != 7*86400 {
			b.Fatal(l.Samples(), "samples")
		}
	}
}
