package atlas

// Row is one published value: its id in the project's catalogue of check values, what it was found
// for, and the value.
type Row struct {
	ID    string
	Value float64
	At    []float64 // the arguments; the first one is the place on the horizontal axis
}

// Group is a table of published values of one kind, source and tolerance.
type Group struct {
	Unit      string
	Tolerance float64
	Mark      Mark
	Bound     Bound
	Rows      []Row
}

// against puts a model beside each row. The points are drawn where the rows say.
func (g Group) against(panel int, model func(at []float64) float64) checks {
	var all checks
	for _, r := range g.Rows {
		c := Check{ID: r.ID, Value: r.Value, Model: model(r.At), Tolerance: g.Tolerance, Unit: g.Unit, Bound: g.Bound, Mark: g.Mark,
			Panel: panel, X: nan, Y: r.Value}
		for i, v := range r.At {
			if i > 0 {
				c.What += "; "
			}
			c.What += figure(v, 10)
		}
		if len(r.At) > 0 {
			c.X = r.At[0]
		}
		all = append(all, c)
	}
	return all
}

// checks are what a picture collects.
type checks []Check

// undrawn keeps them in the table alone.
func (all checks) undrawn() checks {
	for i := range all {
		all[i].X = nan
	}
	return all
}

// silent draws them without their ids, where many stand together.
func (all checks) silent() checks {
	for i := range all {
		all[i].Silent = true
	}
	return all
}

// scaled draws them with other units on the axes.
func (all checks) scaled(x, y float64) checks {
	for i := range all {
		all[i].X *= x
		all[i].Y *= y
	}
	return all
}

// named says what each is for, in place of its bare arguments.
func (all checks) named(what string) checks {
	for i := range all {
		if all[i].What != "" {
			all[i].What = what + " " + all[i].What
		} else {
			all[i].What = what
		}
	}
	return all
}

// swapped draws them with the axes exchanged.
func (all checks) swapped() checks {
	for i := range all {
		all[i].X, all[i].Y = all[i].Y, all[i].X
	}
	return all
}
