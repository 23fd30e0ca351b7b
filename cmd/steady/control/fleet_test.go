package control

import (
	"errors"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// flaky is a sensor that answers while it can.
type flaky struct{ err error }

func (f *flaky) connect(Bus) error { return nil }

func (f *flaky) poll(Bus) (Reading, error) {
	if f.err != nil {
		return Reading{}, f.err
	}
	return Known(1200), nil
}

var _ = Describe("a gauge that does not answer", func() {
	It("keeps its value for some polls, and then has none", func() {
		sensor := &flaky{}
		g := &gauge{sensor: sensor}
		read := func(at time.Duration) Reading {
			g.refresh(at, 3, func(string) {})
			return g.value
		}
		Expect(read(0)).To(Equal(Known(1200)))
		sensor.err = errors.New("silent")
		Expect(read(10 * time.Second)).To(Equal(Known(1200)))
		Expect(read(20 * time.Second)).To(Equal(Known(1200)))
		Expect(read(30 * time.Second)).To(Equal(Reading{}))
		sensor.err = nil
		Expect(read(2 * time.Minute)).To(Equal(Known(1200)))
	})
})
