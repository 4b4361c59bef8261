package control

// Cautions is what a user must have read before a mat is first switched on.
// It stands in the README, in `leavend check`, and on the page beside the
// switch.
const Cautions = `Before you let leavend switch a heat mat:
- leavend is a controller, not a safety device. In the terms of IEC 60730 it is
  software of class A at most: nothing that keeps you safe may rely on it.
- Use a listed (certified) mat, within its rating. Lay it flat and leave it
  uncovered: no blanket, no cupboard, nothing folded under it.
- Put an independent thermal cut-out or thermal fuse on the mat, in series with
  its supply. Relays weld and transistors fail closed; no software can open them.
  Never bypass a cut-out.
- Use a listed switching plug, or a low-voltage mat with a fused supply. Do no
  home wiring of mains. Supply it through ground-fault protection (GFCI or RCD).
- Use an active-high driver with a hardware pull-down, on a pin that starts low.
- Have a working smoke alarm in the room.
- Local electrical codes and licensed practice come before anything written here.
- A rise curve says when dough is ready to bake. It never says that it is safe to eat.
`
