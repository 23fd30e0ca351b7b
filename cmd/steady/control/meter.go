package control

import "fmt"

// sensor is a device of which one value is read: a meter's power, or a switch.
type sensor interface {
	// connect learns what must be known before the first poll.
	connect(b Bus) error
	poll(b Bus) (Reading, error)
}

// sunspecMeter is a meter with model 201 to 204 in its chain.
type sunspecMeter struct {
	base  uint16
	sign  float64
	model model
}

// Offsets in models 201 to 204 (check-values SS-32, from model_203.json of the
// public SunSpec definitions).
const (
	meterW   = 18
	meterWSF = 22
)

func (m *sunspecMeter) connect(b Bus) error {
	models, err := walk(b, m.base)
	if err != nil {
		return err
	}
	for _, id := range []uint16{203, 201, 202, 204} {
		if found, ok := models[id]; ok {
			m.model = found
			return nil
		}
	}
	return fmt.Errorf("the model chain has no meter: must have one of the models 201 to 204")
}

func (m *sunspecMeter) poll(b Bus) (Reading, error) {
	k, err := fetch(b, m.model, meterW, meterWSF)
	if err != nil {
		return Reading{}, err
	}
	return k.signed(meterW, meterWSF).times(m.sign), nil
}

// times turns a reading round where the sign says so.
func (r Reading) times(sign float64) Reading {
	r.Value *= sign
	return r
}

// declaredSensor is one declared value, or the sum of its one-way parts.
type declaredSensor struct{ parts []*register }

func (d *declaredSensor) connect(Bus) error { return nil }

func (d *declaredSensor) poll(b Bus) (Reading, error) {
	sum := Known(0)
	for _, r := range d.parts {
		words, err := b.Read(r.table, r.address, r.size())
		if err != nil {
			return Reading{}, err
		}
		sum = sum.plus(r.decode(words))
	}
	return sum, nil
}

// plus adds two readings; the sum is known where both are.
func (r Reading) plus(other Reading) Reading {
	return Reading{Value: r.Value + other.Value, Known: r.Known && other.Known}
}
