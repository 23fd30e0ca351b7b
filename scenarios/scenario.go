package scenarios

import (
	"slices"
	"time"

	"kilter/physics"
)

// Scenario is one story on one site: what happens, and what must hold.
type Scenario struct {
	Name  string // short name: said in the file, or else the file's without its extension
	Title string
	Story string // why it is told, and where its limits come from

	Site   *Site
	Starts time.Time // in Zone
	Zone   *time.Location
	Lasts  time.Duration
	Seed   uint64
	Step   time.Duration

	Commands     []string      // devices that the controller may command
	ImportWanted []Window      // when charging from the grid is intended
	ExportWanted []Window      // when feeding the grid is intended
	Cheap        []Window      // when the tariff signal says that energy is cheap
	Prices       []PriceWindow // what energy costs, in the order of time; none overlaps another

	Events []Event // in the order of their time
	Must   Must

	Source string // the file that it was read from, for messages
}

// Window is a span of time since the start, From included and To excluded.
type Window struct{ From, To time.Duration }

// PriceWindow is a span of time with one price.
type PriceWindow struct {
	Window
	Price float64 // of a kWh, in the tariff's own money
}

// Event is one thing that happens. One of Action, Link and Trial is set.
type Event struct {
	At       time.Duration // since the start
	Device   string        // a device's name, SkyName, SupplyName or ControllerName
	Action   physics.Action
	Link     *LinkFault // of the device, and of every device where the controller is cut off
	Trial    *Trial     // of the controller
	Disturbs bool       // the settling of grid flow is judged after it
	// Unfolds is how long it goes on to move the net load by itself: a cloud until it has passed, a
	// vehicle until it draws what it will.
	Unfolds time.Duration
	Text    string // for people
	Line    int    // of the scenario file, for messages
}

// These stand in place of a device's name in events of the sky, of the supply and of the controller.
const (
	SkyName        = "sky"
	SupplyName     = "supply"
	ControllerName = "controller"
)

// IsLinkOf says whether an event is a fault of the link between a device and the controller.
func (e *Event) IsLinkOf(device string) bool {
	return e.Link != nil && (e.Device == device || e.Device == ControllerName)
}

// DefaultStep is the step of a scenario that names none.
const DefaultStep = 100 * time.Millisecond

// WithSeed returns the scenario with another seed.
func (s *Scenario) WithSeed(seed uint64) *Scenario {
	c := s.withOwnSite()
	c.Seed = seed
	c.Site.Plant.Seed = seed
	return c
}

// WithSky returns the scenario under a measured sky, which replaces the clear
// sky; LoadSky reads one.
func (s *Scenario) WithSky(points []physics.IrradiancePoint) *Scenario {
	c := s.withOwnSite()
	c.Site.Plant.Sky.Irradiance = slices.Clone(points)
	return c
}

func (s *Scenario) withOwnSite() *Scenario {
	c, site := *s, *s.Site
	c.Site = &site
	return &c
}
