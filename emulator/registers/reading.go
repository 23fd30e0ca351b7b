package registers

// Reading is what one point shows at this moment.
type Reading struct {
	*Point
	Raw   uint64
	Known bool    // false where the raw value says that the device does not know
	Value float64 // in inside units and sign
	Word  string  // what the raw value stands for, where it is a word
}

// Readings appends what every point shows that holds a quantity or a word; texts and what never changes are left
// out. The image must have been refreshed.
func (im *Image) Readings(to []Reading) []Reading {
	for i := range im.layout.fields {
		f := &im.layout.fields[i]
		if f.point == nil || f.size > 4 {
			continue
		}
		r := Reading{Point: f.point, Raw: im.raw(f)}
		r.Known = r.Raw != f.point.Absent || f.point.Type == Bit
		for _, w := range f.point.Words {
			if w.Raw == r.Raw {
				r.Word, r.Known = w.Word, true
			}
		}
		if r.Known {
			r.Value = f.value(r.Raw)
		}
		to = append(to, r)
	}
	return to
}
