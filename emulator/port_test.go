package emulator_test

import (
	"slices"
	"time"

	goburrow "github.com/goburrow/modbus"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/onsi/gomega/types"
	simonvetter "github.com/simonvetter/modbus"

	"kilter/emulator"
	"kilter/emulator/modbus"
	"kilter/scenarios"
)

// sharing begins calm-start with north and south at one address.
func sharing(link scenarios.Link) (*emulator.Bench, *client) {
	GinkgoHelper()
	sc := story("calm-start")
	site := *sc.Site
	site.Devices = slices.Clone(site.Devices)
	for i, d := range site.Devices {
		if d.Name == "north" || d.Name == "south" {
			wire := *d.Wire
			wire.Link, wire.Shared = link, "shed"
			site.Devices[i].Wire = &wire
		}
	}
	sc.Site = &site
	b := open(sc, emulator.Options{Pace: emulator.Stepped})
	play(b, nil)
	return b, connect(b)
}

// The independent client is simonvetter/modbus.
var _ = Describe("devices that share an address", func() {
	DescribeTable("are told apart by unit id, and unit ids that nobody has do not answer", func(link scenarios.Link, scheme string, strange error) {
		b, c := sharing(link)
		north, south := called(b, "north"), called(b, "south")
		Expect(north.Link).To(Equal(link.String()))
		Expect(south.Address).To(Equal(north.Address))
		Expect(called(b, "grid_meter").Address).NotTo(Equal(north.Address))

		open := func(timeout time.Duration) *simonvetter.ModbusClient {
			l, err := simonvetter.NewClient(&simonvetter.ClientConfiguration{URL: scheme + north.Address, Speed: 19200, Timeout: timeout})
			Expect(err).NotTo(HaveOccurred())
			Expect(l.Open()).To(Succeed())
			return l
		}
		l := open(patience)
		Expect(l.SetUnitId(north.Unit)).To(Succeed())
		Expect(l.ReadRegisters(40000, 2, simonvetter.HOLDING_REGISTER)).To(Equal([]uint16{0x5375, 0x6E53})) // "SunS"
		limit := point(*south.Registers, "charge_limit")
		Expect(l.SetUnitId(south.Unit)).To(Succeed())
		Expect(l.WriteRegister(limit.Address, 1200)).To(Succeed())
		Expect(l.ReadRegister(limit.Address, simonvetter.HOLDING_REGISTER)).To(Equal(uint16(1200)))
		Expect(l.Close()).To(Succeed())
		l = open(time.Second) // long enough for silence
		Expect(l.SetUnitId(99)).To(Succeed())
		_, err := l.ReadRegisters(40000, 2, simonvetter.HOLDING_REGISTER)
		Expect(err).To(MatchError(strange))
		Expect(l.Close()).To(Succeed())
		Expect(c.wait(1000)).To(BeTrue())
		traffic := b.Traffic()
		Expect(traffic.Writes).To(Equal(1))
		strays := slices.DeleteFunc(traffic.Devices, func(d emulator.DeviceTraffic) bool { return d.Device == "north" || d.Device == "south" })
		if link == scenarios.Gateway {
			Expect(strays).To(HaveExactElements(And(HaveField("Device", "gateway shed"), HaveField("Exceptions", 1))))
		} else {
			Expect(strays).To(BeEmpty(), "nobody on a line hears what is for nobody")
		}
	},
		Entry("behind a gateway: exception 0A", scenarios.Gateway, "tcp://", simonvetter.ErrGWPathUnavailable),
		Entry("on a serial line: silence", scenarios.RTULine, "rtu://", simonvetter.ErrRequestTimedOut),
		Entry("on RTU over TCP: silence", scenarios.RTUOverTCP, "rtuovertcp://", simonvetter.ErrRequestTimedOut),
	)

	It("fall silent one by one behind a gateway that works", func() {
		b, c := sharing(scenarios.Gateway)
		north, south := called(b, "north"), called(b, "south")
		Expect(b.SetFault("north", modbus.Fault{Spoil: modbus.NoReply})).To(Succeed())
		for unit, said := range map[byte]types.GomegaMatcher{
			north.Unit: HaveField("ExceptionCode", BeEquivalentTo(goburrow.ExceptionCodeGatewayTargetDeviceFailedToRespond)),
			south.Unit: Succeed(),
		} {
			delete(c.links, south.Address)
			_, err := c.link(south.Address, unit).ReadHoldingRegisters(point(*south.Registers, "charge_limit").Address, 1)
			Expect(err).To(said)
		}
	})
})
