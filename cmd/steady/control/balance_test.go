package control

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("states of charge", func() {
	var d *desk
	BeforeEach(func() { d = newDesk() })

	It("let the fuller battery discharge first", func() {
		d.poll(0, 0, -1500)
		d.soc(0.55, 0.5)
		d.serve(1500, "south", 20)
		Expect(d.bands).To(Equal(map[string]Band{"north": northFree, "south": still}))
	})

	It("let the emptier battery charge first", func() {
		d.soc(0.55, 0.5)
		d.poll(0, 1500, 0)
		d.serve(-1500, "north", 20)
		Expect(d.bands).To(Equal(map[string]Band{"north": still, "south": southFree}))
	})

	It("change hands after the hold, by a step a poll that grid flow hardly shows", func() {
		d.poll(0, 0, -1500)
		d.soc(0.55, 0.5)
		Expect(d.serve(1500, "south", 6)).To(BeZero())
		for left := 1350.0; left > 0; left -= 150 {
			d.serve(1500, "south", 1)
			// South still leads: it is free to charge, and north only discharges.
			Expect(d.bands).To(Equal(map[string]Band{"north": {-5000, 0}, "south": {-left, 3600}}))
		}
		d.serve(1500, "south", 1)
		Expect(d.bands).To(Equal(map[string]Band{"north": northFree, "south": still}))
	})

	It("do not change hands further than the first follows", func() {
		d.poll(0, 0, -1500)
		d.soc(0.55, 0.5)
		d.serve(1500, "south", 8)
		Expect(d.bands["south"]).To(Equal(Band{-1200, 3600}))
		d.poll(150, -150, -1200) // north has not taken over the last step
		Expect(d.bands["south"]).To(Equal(Band{-1200, 3600}))
		d.poll(0, -300, -1200)
		Expect(d.bands["south"]).To(Equal(Band{-1050, 3600}))
	})

	It("cost one step of grid flow for two polls where the first does not follow", func() {
		d.poll(0, -1500, 0)
		d.soc(0.5, 0.55)
		for range 7 {
			d.poll(0, -1500, 0)
		}
		Expect(d.bands["north"]).To(Equal(Band{-1350, 5000}))
		d.poll(150, -1350, 0)
		d.poll(150, -1350, 0)
		Expect(d.bands).To(Equal(map[string]Band{"north": northFree, "south": {-3600, 0}}))
		for range 60 {
			Expect(d.poll(0, -1500, 0)).To(BeEmpty())
		}
	})

	It("are left alone between the two thresholds, from either side", func() {
		d.soc(0.535, 0.5)
		d.poll(0, 0, -1500)
		Expect(d.serve(1500, "south", 20)).To(BeZero())
		d.soc(0.545, 0.5)
		d.serve(1500, "south", 20)
		Expect(d.bands["south"]).To(Equal(still))
		d.soc(0.525, 0.5)
		Expect(d.poll(0, -1500, 0)).To(BeEmpty())
		d.soc(0.515, 0.5)
		d.serve(1500, "south", 2)
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("give a unit its freedom back step by step where its own meter makes it take all of it", func() {
		d.poll(0, 0, -1500)
		d.soc(0.55, 0.5)
		d.serve(1500, "south", 20)
		d.soc(0.515, 0.5)
		d.poll(0, -1500, 0)
		for limit := 150.0; limit <= 1500; limit += 150 {
			Expect(d.bands["south"]).To(Equal(Band{-limit, 0}))
			d.poll(0, limit-1500, -limit)
		}
		d.poll(0, 0, -1500) // it does not use the last step
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("do not limit the other direction by what they limited before", func() {
		d.poll(0, 0, -1500)
		d.soc(0.55, 0.5)
		d.serve(1500, "south", 20)
		d.soc(0.515, 0.5)
		d.poll(0, -1500, 0)
		Expect(d.bands["south"]).To(Equal(Band{-150, 0}))
		for range 8 {
			d.poll(0, 1500, 0)
		}
		Expect(d.bands["south"]).To(Equal(Band{0, 3600}))
	})

	It("give a unit its freedom back at once where its power is wanted", func() {
		d.poll(0, 0, -1500)
		d.soc(0.55, 0.5)
		d.serve(1500, "south", 20)
		d.soc(0.515, 0.5)
		d.poll(400, -5000, 0)
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("let the other help with what the first leaves over", func() {
		d.soc(0.6, 0.5)
		d.serve(1500, "south", 7)
		Expect(d.bands["south"]).To(Equal(still))
		d.poll(0, -5000, 0) // 80 % of 5000 W are counted on: 1000 W are left, in steps of 180 W
		Expect(d.bands["south"]).To(Equal(Band{-1080, 0}))
	})

	It("do not make an allowance follow every wave of the load", func() {
		d.soc(0.6, 0.5)
		d.serve(5000, "south", 7)
		writes := 0
		for i := range 60 {
			writes += len(d.poll(0, -4500-float64(i%3)*150, 0))
		}
		Expect(d.bands["south"]).To(Equal(Band{-900, 0})) // the most that was wanted for a hold
		Expect(writes).To(Equal(1))
	})

	It("do not cost grid flow: near its end the first gets help at the first poll", func() {
		d.soc(0.96, 0.9)
		d.poll(0, 0, 1500)
		d.soc(0.96, 0.91)
		d.poll(-900, 0, 600) // south tapers
		Expect(d.bands["north"].MaxW).To(Equal(5000.0))
	})

	It("do not cost grid flow: at the second poll the first is not waited for any longer", func() {
		d.soc(0.6, 0.5)
		d.serve(1500, "south", 7)
		Expect(d.bands["south"]).To(Equal(still))
		d.poll(1500, 0, 0)
		d.poll(1500, 0, 0)
		Expect(d.bands["south"]).To(Equal(Band{-3600, 0}))
	})

	It("never make one battery charge from the other for longer than a poll", func() {
		d.soc(0.6, 0.5)
		d.poll(0, -5000, -700)
		d.poll(0, 400, -1000) // the leader drifts the wrong way while the other may help
		Expect(d.bands["north"]).To(Equal(Band{-5000, 0}))
	})
})
