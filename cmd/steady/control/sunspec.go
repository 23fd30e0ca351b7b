package control

import (
	"fmt"
	"math"
	"time"
)

// sunspecInverter is an inverter with models 101 to 103 for its power and 124
// for its battery.
type sunspecInverter struct {
	base   uint16
	sign   float64
	revert time.Duration // when the device is to forget limits that are not renewed; 0 means never

	power   model
	storage model
	battery block // model 124 as read last

	// The full charge and discharge power, to which the rates are relative [W].
	fullChargeW    float64
	fullDischargeW float64
}

// Offsets in the models (check-values SS-30, SS-33 and SS-36, from the public
// SunSpec definitions model_103.json, model_120.json and model_124.json).
const (
	inverterW   = 14
	inverterWSF = 15

	nameplateW              = 3
	nameplateWSF            = 4
	nameplateWh             = 19
	nameplateWhSF           = 20
	nameplateMaxCharge      = 23
	nameplateMaxChargeSF    = 24
	nameplateMaxDischarge   = 25
	nameplateMaxDischargeSF = 26

	storageWChaMax   = 2
	storageControl   = 5
	storageReserve   = 7
	storageChaState  = 8
	storageOutRate   = 12
	storageInRate    = 13
	storageWindow    = 14
	storageRevert    = 15
	storageGridAllow = 17
	storageWChaMaxSF = 18
	storageReserveSF = 21
	storageStateSF   = 22
	storageRateSF    = 25

	limitBoth = 3 // StorCtl_Mod: the charge rate and the discharge rate hold
)

func (s *sunspecInverter) connect(b Bus) error {
	models, err := walk(b, s.base)
	if err != nil {
		return err
	}
	ok := false
	for _, id := range []uint16{103, 101, 102} {
		if s.power, ok = models[id]; ok {
			break
		}
	}
	if !ok {
		return fmt.Errorf("the model chain has no inverter: must have one of the models 101 to 103")
	}
	if s.storage, ok = models[124]; !ok {
		return fmt.Errorf("the model chain has no battery: must have the model 124")
	}
	if s.battery, err = fetch(b, s.storage, storageWChaMax, storageRateSF); err != nil {
		return err
	}
	if full := s.battery.unsigned(storageWChaMax, storageWChaMaxSF); full.Known {
		s.fullChargeW, s.fullDischargeW = full.Value, full.Value
	}
	nameplate, ok := models[120]
	if !ok {
		return nil
	}
	k, err := fetch(b, nameplate, nameplateW, nameplateMaxDischargeSF)
	if err != nil {
		return err
	}
	if full := k.unsigned(nameplateMaxDischarge, nameplateMaxDischargeSF); full.Known && full.Value > 0 {
		s.fullDischargeW = full.Value
	}
	if full := k.unsigned(nameplateMaxCharge, nameplateMaxChargeSF); full.Known && s.fullChargeW == 0 {
		s.fullChargeW = full.Value
	}
	return nil
}

// poll reads the power, and the whole of model 124, which tells at once
// whether limits still hold.
func (s *sunspecInverter) poll(b Bus, u *Unit) error {
	k, err := fetch(b, s.power, inverterW, inverterWSF)
	if err != nil {
		return err
	}
	u.Power = k.signed(inverterW, inverterWSF).times(s.sign)
	if s.battery, err = fetch(b, s.storage, storageWChaMax, storageRateSF); err != nil {
		return err
	}
	u.SOC = s.battery.unsigned(storageChaState, storageStateSF)
	u.SOC.Value /= 100
	if reserve := s.battery.unsigned(storageReserve, storageReserveSF); reserve.Known {
		u.ReserveSOC = reserve.Value / 100
	}
	u.ChargeMaxW = ratingOr(u.ChargeMaxW, s.fullChargeW)
	u.DischargeMaxW = ratingOr(u.DischargeMaxW, s.fullDischargeW)
	u.CanCharge, u.CanDischarge = true, true
	return nil
}

// ratingOr is the lesser of a rating in the bench file and one that the device
// tells, or the one that is known.
func ratingOr(fileW, deviceW float64) float64 {
	switch {
	case fileW <= 0:
		return deviceW
	case deviceW <= 0:
		return fileW
	}
	return math.Min(fileW, deviceW)
}

// rates are the registers OutWRte and InWRte of a band, in percent of full
// power. A negative discharge rate makes the inverter charge.
func (s *sunspecInverter) rates(band Band) (out, in uint16, err error) {
	e, ok := s.battery.exponent(storageRateSF)
	if !ok || s.fullChargeW <= 0 || s.fullDischargeW <= 0 {
		return 0, 0, fmt.Errorf("model 124 has no scale or no full power for its rates")
	}
	rate := func(powerW, fullW float64) uint16 {
		percent := clamp(100*powerW/fullW, -100, 100)
		raw := math.Trunc(scaleBy(percent, -e) + math.Copysign(1e-6, percent))
		return uint16(int16(clamp(raw, -math.MaxInt16, math.MaxInt16)))
	}
	return rate(-band.MinW, s.fullDischargeW), rate(band.MaxW, s.fullChargeW), nil
}

// free tells whether a band leaves the unit to its native loop.
func (band Band) free(u Unit) bool { return band.MinW <= -u.DischargeMaxW && band.MaxW >= u.ChargeMaxW }

func (s *sunspecInverter) limit(b Bus, band Band, u Unit) error {
	control := s.storage.address + storageControl
	if band.free(u) {
		return b.Write("holding", control, []uint16{0})
	}
	out, in, err := s.rates(band)
	if err != nil {
		return err
	}
	if w, ok := s.battery.word(storageGridAllow); ok && w == 0 && band.MinW > 0 {
		if err := b.Write("holding", s.storage.address+storageGridAllow, []uint16{1}); err != nil {
			return err
		}
	}
	// Rates, window and revert time stand side by side: one write, in which the
	// revert time holds for the rates. Then the control bits make them hold.
	first, values := s.storage.address+storageOutRate, []uint16{out, in}
	if w, ok := s.battery.word(storageRevert); ok && w != 0xFFFF {
		seconds := uint16(leaseOf(band, s.revert) / time.Second)
		if w, ok := s.battery.word(storageWindow); ok && w != 0xFFFF {
			values = append(values, 0, seconds)
		} else if err := b.Write("holding", s.storage.address+storageRevert, []uint16{seconds}); err != nil {
			return err
		}
	}
	if err := b.Write("holding", first, values); err != nil {
		return err
	}
	if w, ok := s.battery.word(storageControl); ok && w == limitBoth {
		return nil
	}
	return b.Write("holding", control, []uint16{limitBoth})
}

// renew writes the rates, which starts their revert time anew.
func (s *sunspecInverter) renew(b Bus, band Band, u Unit) error { return s.limit(b, band, u) }

func (s *sunspecInverter) kept(band Band, u Unit) bool {
	control, ok := s.battery.word(storageControl)
	if !ok {
		return true
	}
	if band.free(u) {
		return control == 0
	}
	out, in, err := s.rates(band)
	isOut, _ := s.battery.word(storageOutRate)
	isIn, _ := s.battery.word(storageInRate)
	return err != nil || control == limitBoth && out == isOut && in == isIn
}

func (s *sunspecInverter) lease(band Band) time.Duration {
	if w, ok := s.battery.word(storageRevert); ok && w != 0xFFFF {
		return leaseOf(band, s.revert)
	}
	return 0
}
