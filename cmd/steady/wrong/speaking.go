package wrong

import (
	"slices"
	"time"

	"kilter/cmd/steady/control"
)

// wires are faults in how devices are spoken to.
var wires = []Fault{
	{
		Name: "dies-of-an-exception", Does: "ends at the first exception that a device answers",
		Shows: Shows{"link-slow", "controller", 12 * time.Minute, 750 * time.Second},
		make: retries("", func(err error, _ func() error) error {
			if control.IsRefusal(err) {
				panic(err)
			}
			return err
		}),
	},
	{
		Name: "hangs-on-silence", Does: "asks a silent device again and again, and serves nobody meanwhile",
		Shows: Shows{"price-silent", "settle", 8 * time.Minute, 9 * time.Minute},
		make: retries("", func(err error, again func() error) error {
			for err != nil && !control.IsRefusal(err) {
				err = again()
			}
			return err
		}),
	},
	{
		Name: "refusal-as-zero", Does: "takes the zeros of a buffer that no reply has filled for values",
		Shows: Shows{"meter-lost", "import", 15 * time.Minute, 16 * time.Minute},
		make: speaks("", func() tap {
			return tap{read: func(b control.Bus, table string, address, count uint16) ([]uint16, error) {
				words, err := b.Read(table, address, count)
				if err != nil {
					return make([]uint16, count), nil
				}
				return words, nil
			}}
		}),
	},
	{
		Name: "never-enables", Does: "writes north's rates but not the bits that make them hold",
		Shows: Shows{"solar-surge", "circulating", 3 * time.Minute, 4 * time.Minute},
		make: speaks("north", func() tap {
			return tap{write: func(b control.Bus, table string, address uint16, values []uint16) error {
				if len(values) == 1 && values[0] == 3 {
					return nil
				}
				return b.Write(table, address, values)
			}}
		}),
	},
	{
		Name: "lets-leases-lapse", Does: "never repeats a command, though north forgets its own after a minute",
		Shows: Shows{"solar-surge", "circulating", 3 * time.Minute, 8 * time.Minute},
		make: speaks("north", func() tap {
			last := map[uint16][]uint16{}
			return tap{write: func(b control.Bus, table string, address uint16, values []uint16) error {
				if slices.Equal(last[address], values) {
					return nil
				}
				last[address] = slices.Clone(values)
				return b.Write(table, address, values)
			}}
		}, "--lease", "60s"),
	},
	{
		Name: "reads-seldom", Does: "answers itself from a cache that is five minutes old",
		Shows: Shows{"solar-surge", "circulating", 3 * time.Minute, 4 * time.Minute},
		make: speaks("", func() tap {
			type block struct {
				words []uint16
				uses  int
			}
			cache := map[[2]uint16]*block{}
			return tap{read: func(b control.Bus, table string, address, count uint16) ([]uint16, error) {
				at := [2]uint16{address, count}
				if k := cache[at]; k != nil && k.uses < 30 {
					k.uses++
					return slices.Clone(k.words), nil
				}
				words, err := b.Read(table, address, count)
				if err == nil {
					cache[at] = &block{words: slices.Clone(words)}
				}
				return words, err
			}}
		}),
	},
	{
		Name: "retries-without-a-pause", Does: "asks a busy device two hundred times in a row",
		Shows: Shows{"link-slow", "wire_manners", 12 * time.Minute, 13 * time.Minute},
		make: retries("", func(err error, again func() error) error {
			for n := 0; n < 200 && control.IsRefusal(err); n++ {
				err = again()
			}
			return err
		}),
	},
	{
		Name: "forgets-the-reserve", Does: "sets the reserve to nothing, so that all that was paid for is used",
		Shows: Shows{"reserve-kept", "reserve", 20 * time.Minute, 36 * time.Minute},
		make:  func() parts { return spendsReserve().parts() },
	},
	{
		Name: "gives-up", Does: "never asks a device again that has once not answered",
		Shows: Shows{"link-silent", "circulating", 10 * time.Minute, 25 * time.Minute},
		make: speaks("", func() tap {
			var lost error
			return tap{
				read: func(b control.Bus, table string, address, count uint16) (words []uint16, err error) {
					if lost != nil {
						return nil, lost
					}
					if words, err = b.Read(table, address, count); err != nil && !control.IsRefusal(err) {
						lost = err
					}
					return words, err
				},
			}
		}),
	},
}

// retries is the reference controller that deals with a failed request in a way of its own.
func retries(device string, deal func(err error, again func() error) error) func() parts {
	return speaks(device, func() tap {
		return tap{
			read: func(b control.Bus, table string, address, count uint16) (words []uint16, err error) {
				again := func() error {
					words, err = b.Read(table, address, count)
					return err
				}
				err = deal(again(), again)
				return words, err
			},
			write: func(b control.Bus, table string, address uint16, values []uint16) error {
				again := func() error { return b.Write(table, address, values) }
				return deal(again(), again)
			},
		}
	})
}
