package suites

import (
	"kilter/emulator/trace"
	"kilter/scenarios"
	"kilter/suites/criteria"
)

// Where in the trace a criterion is seen.
var (
	flow   = []trace.Kind{trace.Grid, trace.NetLoad}
	powers = []trace.Kind{trace.Inverter}
	soc    = []trace.Kind{trace.SOC}
	both   = []trace.Kind{trace.SOC, trace.Inverter}
)

// statements are all criteria, in the order in which they are judged and told.
var statements = []statement{
	{
		name: "import", shows: flow,
		stated:    func(m *scenarios.Must) bool { return m.Import != nil },
		make:      func(c *setting) (criteria.Monitor, error) { return criteria.NewImport(flowLimit(c.Import), c.step) },
		allowance: func(m *scenarios.Must) string { return except(m.Import.Except) },
	},
	{
		name: "export", shows: flow,
		stated:    func(m *scenarios.Must) bool { return m.Export != nil },
		make:      func(c *setting) (criteria.Monitor, error) { return criteria.NewExport(flowLimit(c.Export), c.step) },
		allowance: func(m *scenarios.Must) string { return except(m.Export.Except) },
	},
	{
		name: "settle", shows: flow,
		stated: func(m *scenarios.Must) bool { return m.Settle != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			m := c.Settle
			return criteria.NewSettle(criteria.Settle{BandW: m.BandW, Within: m.Within, OvershootW: m.OvershootW}, c.step)
		},
		allowance: func(m *scenarios.Must) string { return "to within " + watts(m.Settle.BandW) },
	},
	{
		name: "hunting", shows: flow,
		stated: func(m *scenarios.Must) bool { return m.Hunting != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			return criteria.NewHunting(criteria.Hunting{BelowW: c.Hunting.BelowW, GoneWithin: c.Hunting.GoneWithin}, c.step)
		},
		allowance: func(m *scenarios.Must) string { return "gone within " + duration(m.Hunting.GoneWithin) },
	},
	{
		name: "circulating", shows: []trace.Kind{trace.Circulating},
		stated: func(m *scenarios.Must) bool { return m.Circulating != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			m := c.Circulating
			return criteria.NewCirculating(criteria.Circulating{BelowW: m.BelowW, Except: m.Except, Episode: m.Episode, EnergyWh: m.EnergyWh}, c.step)
		},
		allowance: func(m *scenarios.Must) string { return except(m.Circulating.Except) },
	},
	{
		name: "soc_spread", shows: soc,
		stated: func(m *scenarios.Must) bool { return m.SOCSpread != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			return criteria.NewSOCSpread(criteria.SOCSpread{Below: c.SOCSpread.Below, From: c.SOCSpread.From, Names: c.batteries}, c.step)
		},
		allowance: func(m *scenarios.Must) string {
			if m.SOCSpread.From == 0 {
				return ""
			}
			return "from " + duration(m.SOCSpread.From) + " on"
		},
	},
	{
		name: "reserve", shows: both,
		stated: func(m *scenarios.Must) bool { return m.Reserve != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			return criteria.NewReserve(criteria.Reserve{Below: c.Reserve.Below, Except: c.Reserve.Except, Names: c.batteries}, c.step)
		},
		allowance: func(m *scenarios.Must) string { return except(m.Reserve.Except) },
	},
	{
		name: "supply_current", shows: flow,
		stated: func(m *scenarios.Must) bool { return m.SupplyCurrent != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			return criteria.NewSupplyCurrent(criteria.SupplyCurrent{BelowA: c.SupplyCurrent.BelowA, Except: c.SupplyCurrent.Except}, c.step)
		},
		allowance: func(m *scenarios.Must) string { return except(m.SupplyCurrent.Except) },
	},
	{
		name: "fuse_heating", shows: flow,
		stated: func(m *scenarios.Must) bool { return m.FuseHeating != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			p, err := criteria.FuseGG(c.scenario.Site.Plant.Supply.FuseA, c.FuseHeating.Below)
			if err != nil {
				return nil, err
			}
			return criteria.NewFuseHeating(p, c.step)
		},
	},
	{
		name: "schedule", shows: soc,
		stated: func(m *scenarios.Must) bool { return m.Schedule != nil },
		make:   func(c *setting) (criteria.Monitor, error) { return criteria.NewSchedule(c.schedule(), c.step) },
		allowance: func(m *scenarios.Must) string {
			return "of a state of charge of " + percent(m.Schedule.Target)
		},
	},
	{
		name: "avoidable_import", shows: flow,
		stated: func(m *scenarios.Must) bool { return m.AvoidableImport != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			return criteria.NewAvoidableImport(criteria.AvoidableEnergy{BelowWh: c.AvoidableImport.BelowWh}, c.step)
		},
	},
	{
		name: "avoidable_export", shows: flow,
		stated: func(m *scenarios.Must) bool { return m.AvoidableExport != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			return criteria.NewAvoidableExport(criteria.AvoidableEnergy{BelowWh: c.AvoidableExport.BelowWh}, c.step)
		},
	},
	{
		name: "wear", shows: both,
		stated: func(m *scenarios.Must) bool { return m.Wear != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			m := c.Wear
			return criteria.NewWear(criteria.Wear{
				CyclesPerDay: m.CyclesPerDay, ReversalsPerHour: m.ReversalsPerHour, ModeFlipsPerHour: m.ModeFlipsPerHour, Names: c.batteries,
			}, c.step)
		},
	},
	{
		name: "command_economy", shows: powers,
		stated: func(m *scenarios.Must) bool { return m.CommandEconomy != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			m := c.CommandEconomy
			return criteria.NewCommandEconomy(criteria.CommandEconomy{WritesPerHour: m.WritesPerHour, Gap: m.Gap, Devices: c.devices}, c.step)
		},
	},
	{
		name: "wire_manners", shows: powers,
		stated: func(m *scenarios.Must) bool { return m.WireManners != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			m := c.WireManners
			return criteria.NewWireManners(criteria.WireManners{
				Exceptions: m.Exceptions, Illegal: m.Illegal, Forbidden: m.Forbidden, ReadsPerS: m.ReadsPerS, Over: m.Over, Devices: c.devices,
			}, c.step)
		},
	},
	{
		name: "fail_safe", shows: powers,
		stated: func(m *scenarios.Must) bool { return m.FailSafe != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			m := c.FailSafe
			return criteria.NewFailSafe(criteria.FailSafe{BelowW: m.BelowW, Within: m.Within, NativeIsSafe: m.NativeIsSafe, NarrowedIsSafe: m.NarrowedIsSafe, Names: c.batteries}, c.step)
		},
		allowance: func(m *scenarios.Must) string { return "from " + duration(m.FailSafe.Within) + " after the loss on" },
	},
	{
		name: "recovery", shows: flow,
		stated: func(m *scenarios.Must) bool { return m.Recovery != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			m := c.Recovery
			return criteria.NewRecovery(criteria.Recovery{BandW: m.BandW, Within: m.Within, Hold: m.Hold}, c.step)
		},
		allowance: func(m *scenarios.Must) string { return "to within " + watts(m.Recovery.BandW) },
	},
	{
		name: "reversion", shows: powers,
		stated: func(m *scenarios.Must) bool { return m.Reversion != nil },
		make: func(c *setting) (criteria.Monitor, error) {
			return criteria.NewReversion(criteria.Reversion{Within: c.Reversion.Within, Untimed: c.Reversion.Untimed, Names: c.batteries}, c.step)
		},
	},
}

func flowLimit(m *scenarios.Flow) criteria.FlowLimit {
	return criteria.FlowLimit{BelowW: m.BelowW, Except: m.Except, EnergyWh: m.EnergyWh}
}
