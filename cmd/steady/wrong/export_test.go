package wrong

// Sound is the design that gives set points, without a fault.
var Sound = Fault{Name: "sound", make: given(func(*central) {})}
