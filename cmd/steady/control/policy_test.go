package control

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// desk lets a test say what the site looks like, poll by poll, and remembers
// what each unit was told last.
type desk struct {
	policy *Policy
	at     time.Duration
	limitW float64
	cheap  bool
	units  []Unit
	bands  map[string]Band
}

func newDesk() *desk {
	unit := func(name string, ratingW, capacityWh float64) Unit {
		return Unit{Name: name, Commanded: true, CanCharge: true, CanDischarge: true, ChargeMaxW: ratingW, DischargeMaxW: ratingW,
			CapacityWh: capacityWh, ReserveSOC: 0.1, SOC: Known(0.5)}
	}
	return &desk{policy: supervised(), limitW: 18000, bands: map[string]Band{},
		units: []Unit{unit("north", 5000, 10000), unit("south", 3600, 6400)}}
}

// poll shows the policy a grid flow and two battery powers, 10 s after the last.
func (d *desk) poll(gridW, northW, southW float64) []Command {
	d.units[0].Power, d.units[1].Power = Known(northW), Known(southW)
	return d.show(Known(gridW))
}

func (d *desk) show(grid Reading) []Command {
	units := append([]Unit{}, d.units...)
	commands := d.policy.Decide(Snapshot{At: d.at, Grid: grid, ImportLimitW: d.limitW, Cheap: d.cheap, Units: units})
	d.at += 10 * time.Second
	for _, c := range commands {
		d.bands[c.Unit] = c.Band
	}
	return commands
}

// serve lets two sound units serve a load: for some polls the giver does what its
// band leaves it of what it did last, and the other the rest.
func (d *desk) serve(loadW float64, giver string, polls int) (writes int) {
	for range polls {
		does := map[string]float64{}
		for _, u := range d.units {
			if u.Name == giver {
				does[giver] = clamp(u.Power.Value, d.bands[giver].MinW, d.bands[giver].MaxW)
			}
		}
		rest := -loadW - does[giver]
		if giver == "north" {
			writes += len(d.poll(0, does[giver], rest))
		} else {
			writes += len(d.poll(0, rest, does[giver]))
		}
	}
	return writes
}

func (d *desk) soc(north, south float64) {
	d.units[0].SOC, d.units[1].SOC = Known(north), Known(south)
}

var (
	northFree = Band{-5000, 5000}
	southFree = Band{-3600, 3600}
	still     = Band{0, 0}
)

var _ = Describe("the direction", func() {
	var d *desk
	BeforeEach(func() { d = newDesk() })

	It("leaves one unit free and lets the other work the site's way only", func() {
		d.poll(0, -2000, -500)
		Expect(d.bands).To(Equal(map[string]Band{"north": northFree, "south": {-3600, 0}}))
	})

	It("takes the wrong way from a leader that charges while another discharges", func() {
		d.poll(0, -2000, -500)
		d.poll(0, 150, -2000) // the load is 1850 W, and north has drifted to charging
		Expect(d.bands).To(Equal(map[string]Band{"north": {-5000, 0}, "south": southFree}))
	})

	It("lets circulating power under its threshold be", func() {
		d.poll(0, -2000, -500)
		Expect(d.poll(0, 59, -2000)).To(BeEmpty())
	})

	It("turns at the first poll when the leader is at its limit and the blocked power is wanted", func() {
		d.poll(0, -2000, -500)
		d.poll(-3000, 5000, 0) // sun: the leader is saturated and 3 kW are exported
		Expect(d.bands["south"]).To(Equal(Band{0, 3600}))
	})

	It("turns at the first poll when the leader is full", func() {
		d.soc(1, 0.98)
		d.poll(0, -2000, -500)
		d.poll(-800, 0, 0)
		Expect(d.bands["south"]).To(Equal(Band{0, 3600}))
	})

	It("turns at the first poll when load rises and the leader is empty", func() {
		d.soc(0.1, 0.12)
		d.poll(0, 2000, 500)
		Expect(d.bands["south"]).To(Equal(Band{0, 3600}))
		d.poll(900, 0, 0)
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("waits for the hold when the leader does alone what is needed", func() {
		d.poll(0, -2000, -500)
		for range 6 {
			Expect(d.poll(0, 800, 0)).To(BeEmpty())
		}
		d.poll(0, 800, 0) // the seventh poll is 60 s after the first
		Expect(d.bands["south"]).To(Equal(Band{0, 3600}))
	})

	It("does not flip while net load trembles about zero", func() {
		d.poll(0, -300, -100)
		for i := range 500 {
			w := float64(i%7)*17 - 51 // within the threshold, both signs
			Expect(d.poll(0, w, 0)).To(BeEmpty())
		}
	})

	It("does not flip while net load swings faster than the hold and the leader follows it", func() {
		d.poll(0, -1000, 0)
		for i := range 500 {
			w := 1500.0
			if i/3%2 == 0 {
				w = -1500
			}
			Expect(d.poll(0, w, 0)).To(BeEmpty())
		}
	})

	It("never blocks a direction that stays wanted", func() {
		for _, need := range []float64{-3000, 3000, -6000, 6000, -70, 70} {
			for range 8 {
				d.poll(-need, 0, 0) // whatever it commands, nothing moves
			}
			for _, name := range []string{"north", "south"} {
				if need > 0 {
					Expect(d.bands[name].MaxW).To(BeNumerically(">", 0), "%s may charge", name)
				} else {
					Expect(d.bands[name].MinW).To(BeNumerically("<", 0), "%s may discharge", name)
				}
			}
		}
	})

	It("keeps to what the batteries do when the grid meter is lost", func() {
		d.poll(0, -2000, -500)
		d.units[0].Power, d.units[1].Power = Known(150), Known(-2000)
		d.show(Reading{})
		Expect(d.bands["north"]).To(Equal(Band{-5000, 0}))
	})

	It("waits for a leader that falls silent, since it goes on working", func() {
		d.poll(0, -2000, -500)
		d.units[0].Power, d.units[0].SOC = Reading{}, Reading{}
		d.units[1].Power = Known(-500)
		for range 59 {
			Expect(d.show(Known(0))).To(BeEmpty())
		}
		d.show(Known(0))
		Expect(d.bands["south"]).To(Equal(southFree))
	})

	It("turns at the first poll when a silent leader does not do what is needed", func() {
		d.poll(0, -2000, -500)
		d.units[0].Power = Reading{}
		d.units[1].Power = Known(0)
		d.show(Known(-1500))
		Expect(d.bands["south"]).To(Equal(Band{0, 3600}))
	})

	It("lets a battery lead that it may not command", func() {
		d.units[0].Commanded = false
		for _, c := range d.poll(0, -500, -500) {
			Expect(c.Unit).To(Equal("south"))
		}
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("holds still where it feeds one that it may not command, until more is wanted", func() {
		d.units[0].Commanded = false
		d.poll(0, -500, -500)
		d.poll(0, 500, -1500)
		Expect(d.bands["south"]).To(Equal(Band{0, 0}))
		d.poll(0, -1000, 0)
		Expect(d.bands["south"]).To(Equal(Band{0, 0}))
		d.poll(400, -1000, 0)
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})
})

var _ = Describe("the cheap slot", func() {
	var d *desk
	BeforeEach(func() { d = newDesk(); d.cheap = true })

	total := func() float64 { return d.bands["north"].MinW + d.bands["south"].MinW }

	It("charges both batteries with all they take when the limit leaves room", func() {
		d.poll(1000, 0, 0)
		Expect(d.bands).To(Equal(map[string]Band{"north": {5000, 5000}, "south": {3600, 3600}}))
	})

	It("keeps import under the limit less the margin", func() {
		d.poll(12000, 0, 0)
		// 18000 W limit - 500 W margin - 12000 W load
		Expect(total()).To(BeNumerically("~", 5500, 2))
		Expect(total()).To(BeNumerically("<=", 5500))
	})

	It("shares by the energy that is still to be filled", func() {
		d.soc(0.5, 0.75) // 5000 Wh and 1600 Wh are missing
		d.poll(14200, 0, 0)
		Expect(d.bands["north"].MinW).To(BeNumerically("~", 3300*5000/6600, 2))
		Expect(d.bands["south"].MinW).To(BeNumerically("~", 3300*1600/6600, 2))
	})

	It("lets no battery run ahead of the lowest once they are apart", func() {
		d.soc(0.50, 0.53)
		d.poll(1000, 0, 0)
		Expect(d.bands["south"].MinW).To(Equal(3600.0))
		d.soc(0.55, 0.60)
		d.poll(9600, 5000, 3600)
		// Both rise by 5000 W / 10000 Wh = 50 % an hour.
		Expect(d.bands).To(Equal(map[string]Band{"north": {5000, 5000}, "south": {3200, 3200}}))
		d.soc(0.60, 0.55)
		d.poll(9200, 5000, 3200)
		Expect(d.bands["north"].MinW).To(Equal(5000.0), "south, which is behind, rises by 56 % an hour")
		d.soc(0.55, 0.60)
		d.units[0].CapacityWh, d.units[1].CapacityWh = 0, 0 // nobody knows how fast they rise
		d.cheap = false
		d.poll(9600, 5000, 3600)
		d.cheap = true
		d.poll(1000, 0, 0)
		Expect(d.bands).To(Equal(map[string]Band{"north": {5000, 5000}, "south": {3600, 3600}}))
	})

	It("is cut at the poll that finds the van charging", func() {
		d.poll(4000, 0, 0)
		d.poll(4000+8600+7400, 5000, 3600) // the van draws 7400 W more: 20 kW
		Expect(total()).To(BeNumerically("~", 18000-500-11400, 2))
	})

	It("helps when other load alone is over the limit", func() {
		d.poll(19000, 0, 0)
		Expect(d.bands["north"].MinW + d.bands["south"].MinW).To(BeNumerically("~", -1500, 2))
		Expect(d.bands["north"].MaxW).To(Equal(0.0))
	})

	It("takes more only after more has been free for the hold", func() {
		d.poll(12000, 0, 0)
		before := total()
		n, s := d.bands["north"].MinW, d.bands["south"].MinW
		for range 6 {
			Expect(d.poll(9000+n+s, n, s)).To(BeEmpty())
		}
		d.poll(9000+n+s, n, s)
		Expect(total()).To(BeNumerically("~", before+3000, 3))
	})

	It("is not rewritten for noise", func() {
		d.poll(12000, 0, 0)
		n, s := d.bands["north"].MinW, d.bands["south"].MinW
		for i := range 200 {
			Expect(d.poll(12000+n+s+float64(i%11)*20-100, n, s)).To(BeEmpty())
		}
	})

	It("gives a full battery's share to the other, and does not refill it for a trifle", func() {
		d.poll(13500, 0, 0)
		n, s := d.bands["north"].MinW, d.bands["south"].MinW
		d.soc(0.9, 1)
		d.poll(13500+n+s, n, s)
		Expect(d.bands["south"]).To(Equal(still))
		n = d.bands["north"].MinW
		Expect(n).To(BeNumerically("~", 4000, 2))
		d.soc(0.91, 0.995)
		for range 10 {
			Expect(d.poll(13500+n, n, 0)).To(BeEmpty())
		}
	})

	It("ends with the contact, and the native loops work again", func() {
		d.poll(1000, 0, 0)
		d.cheap = false
		d.poll(9600, 5000, 3600)
		Expect(d.bands["north"].MinW).To(Equal(-5000.0))
		Expect(d.bands["south"].MinW).To(Equal(-3600.0))
	})

	It("does not charge from a grid that nobody measures", func() {
		d.poll(1000, 0, 0)
		d.units[0].Power, d.units[1].Power = Known(5000), Known(3600)
		d.show(Reading{})
		for _, b := range d.bands {
			Expect(b.MinW).To(BeNumerically("<=", 0))
		}
	})

	It("only keeps a battery from discharging that it cannot make charge", func() {
		d.units[1].CanCharge = false
		d.poll(1000, 0, 0)
		Expect(d.bands["south"]).To(Equal(Band{0, 3600}))
	})
})

var _ = Describe("a unit that works beyond the site's need", func() {
	// The load is 1000 W and south, whose meter is frozen, gives 3600 W.
	It("is held after two polls, and the other does the work", func() {
		d := newDesk()
		d.poll(0, 0, -1000)
		d.poll(-2600, 0, -3600)
		Expect(d.bands["south"]).To(Equal(southFree))
		d.poll(-2600, 0, -3600)
		Expect(d.bands).To(Equal(map[string]Band{"north": northFree, "south": still}))
	})

	It("is not suspected while it gives way", func() {
		d := newDesk()
		d.poll(0, 0, -3600)
		d.poll(-2600, 0, -3600)
		d.poll(-1800, 0, -2800)
		Expect(d.bands["south"]).To(Equal(southFree))
	})

	It("still helps when the other cannot do it all", func() {
		d := newDesk()
		d.poll(0, 0, -1000)
		d.poll(-2600, 0, -3600)
		d.poll(-2600, 0, -3600)
		d.poll(2000, -5000, 0) // 7000 W are needed, 80 % of 5000 W are counted on
		Expect(d.bands["south"]).To(Equal(Band{-3060, 0}))
	})

	It("is trusted again after ten holds", func() {
		d := newDesk()
		d.poll(0, 0, -1000)
		d.poll(-2600, 0, -3600)
		d.poll(-2600, 0, -3600)
		for range 59 {
			Expect(d.poll(0, -1000, 0)).To(BeEmpty())
		}
		d.poll(0, -1000, 0)
		d.poll(0, -1000, 0)
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("is put up with where it is the only one", func() {
		d := newDesk()
		d.units = d.units[:1]
		for range 5 {
			d.units[0].Power = Known(-3600)
			d.show(Known(-2600))
		}
		Expect(d.bands["north"]).To(Equal(northFree))
	})
})

var _ = Describe("a unit whose own loop does not follow", func() {
	It("is driven once the others are at their limits, and let go when it is not needed", func() {
		d := newDesk()
		d.poll(0, -4000, 0)
		for range 3 {
			Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
			d.poll(1000, -5000, 0)
		}
		Expect(d.bands["south"]).To(Equal(Band{-1080, -1080})) // a step of 180 W more than is wanted, for the leader to trim
		d.poll(0, -4900, -1080)
		d.poll(0, 700, -1080) // load falls, and the leader charges what is too much
		Expect(d.bands["south"].MaxW).To(BeNumerically(">=", -360))
		d.poll(0, -100, -360)
		for range 20 {
			d.poll(0, -100+d.bands["south"].MaxW, d.bands["south"].MaxW)
		}
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("is not driven while it follows, or while another can do more", func() {
		d := newDesk()
		d.poll(0, -4000, 0)
		d.poll(3000, -5000, -300)
		d.poll(2200, -5000, -1100)
		d.poll(1500, -5000, -1800)
		d.poll(900, -5000, -2400)
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
		for range 5 {
			d.poll(900, -3000, 0)
		}
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("is not driven in vain, as when it has tripped", func() {
		d := newDesk()
		writes := 0
		for range 30 {
			writes += len(d.poll(1000, -5000, 0))
		}
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
		Expect(writes).To(BeNumerically("<=", 7))
	})

	It("is not driven to and fro by a load that trembles about a step", func() {
		for phase := range 2 {
			d := newDesk()
			d.soc(0.5, 0.6)
			d.poll(0, -4500, 0)
			d.policy.blind["south"] = true
			tremble := func(i int) []Command {
				w := math.Min(d.bands["south"].MaxW, 0)
				return d.poll(0, -4496-float64((i+phase)%2)*8-w, w)
			}
			for i := range 60 {
				tremble(i)
			}
			Expect(d.bands["south"].MaxW).To(BeNumerically("~", -3600, 180)) // 80 % of the load
			for i := range 60 {
				Expect(tremble(i)).To(BeEmpty())
			}
		}
	})

	It("is driven in its turn, when states of charge ask for it", func() {
		d := newDesk()
		d.soc(0.5, 0.6)
		d.poll(0, -2000, 0)
		for range 2 { // it does not follow, and is not waited for; after ten holds it is tried again
			for range 62 {
				if d.bands["north"] == still {
					d.poll(2000, 0, 0)
				} else {
					w := math.Min(d.bands["south"].MaxW, 0) // it does only what it is driven to
					d.poll(0, -2000-w, w)
				}
			}
		}
		Expect(d.bands["south"].MaxW).To(BeNumerically("<", -1000))
		Expect(d.bands["north"].MinW).To(Equal(-5000.0))
	})
})

var _ = Describe("a frozen grid meter", func() {
	It("is not believed after a minute in which batteries moved", func() {
		d := newDesk()
		for i := range 7 {
			d.poll(-1000, -200*float64(i), 0)
			Expect(d.policy.GridFrozen()).To(Equal(i >= 5))
		}
		d.poll(-1001, -1300, 0)
		Expect(d.policy.GridFrozen()).To(BeFalse())
	})

	It("is not suspected while nothing moves, nor near zero, where the loops keep it", func() {
		d := newDesk()
		for range 50 {
			d.poll(-1000, 5000, 3600)
			Expect(d.policy.GridFrozen()).To(BeFalse())
		}
		for i := range 50 {
			d.poll(0, -50*float64(i), 0)
			Expect(d.policy.GridFrozen()).To(BeFalse())
		}
	})
})
