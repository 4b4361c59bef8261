package control

// FaultKinds returns every kind of fault, the gravest first.
func FaultKinds() []FaultKind { return allFaults() }
