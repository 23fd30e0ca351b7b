package trust

import (
	"math"

	"kilter/physics"
	"kilter/suites/criteria"
)

// watch fills the sample of one step from the plant.
func watch(s *criteria.Sample, p *physics.Plant) {
	site := p.Site()
	s.Tick, s.StepS = p.Tick(), stepS
	s.GridW, s.NetLoadW, s.GivenW = p.GridW, p.NetLoadW, p.GivenW
	s.FuseA = site.Supply.FuseA
	charge, discharge := 0.0, 0.0
	for i := range p.Inverters {
		v := &p.Inverters[i]
		x := &s.Inverters[i]
		*x = criteria.InverterSample{
			ACPowerW: v.PowerW, BatteryW: v.BatteryW, SOC: v.Battery.SOC, ToldSOC: v.Battery.SOC,
			ChargeRoomW: v.ChargeRoomW(), DischargeRoomW: v.DischargeRoomW(),
			Reserve: site.Inverters[i].Battery.ReserveSOC, CapacityWh: site.Inverters[i].Battery.CapacityWh,
		}
		switch v.Mode {
		case physics.SelfConsumption:
			x.Mode = criteria.ModeNative
		case physics.Hold:
			x.Mode = criteria.ModeHold
		case physics.FollowSetpoint:
			x.Mode = criteria.ModeSetpoint
		}
		charge, discharge = charge+x.ChargeRoomW, discharge+x.DischargeRoomW
	}
	s.ChargerW, s.VehicleCharging = 0, false
	for i := range p.Chargers {
		s.ChargerW += p.Chargers[i].PowerW
		s.VehicleCharging = s.VehicleCharging || p.Chargers[i].PowerW > 0
	}
	// Everything loads all phases alike, and nothing draws reactive power.
	supply := p.Supply()
	least := p.NetLoadW + min(max(-p.NetLoadW, -discharge), charge)
	most := max(math.Abs(p.NetLoadW+charge), math.Abs(p.NetLoadW-discharge))
	for i := range s.Phases {
		volts := supply.VoltsV[i] * float64(len(s.Phases))
		s.Phases[i] = criteria.PhaseSample{CurrentA: supply.AmpsA[i], LeastA: math.Abs(least) / volts, MostA: most / volts}
	}
}
