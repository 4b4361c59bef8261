package control

// Cautions is what a user must have read before a mat is first switched on.
// It stands in the README, in `leavend check`, and on the page beside the
// switch.
const Cautions = `Before you let leavend switch a heat mat:
- leavend is a controller, not a safety device. In the terms of IEC 60730 it is
  software of class A at most: nothing that keeps you safe may rely on it.
- Use a listed (certified) mat, within its rating. Lay it flat and leave it
  uncovered: no blanket, no cupboard, nothing folded under it. Check its cord
  and its surface before each use; throw a damaged one away.
- Do not leave a mat on while no adult is at home. Keep children and pets away.
- Leave room for the rise and never close a lid tightly: a jar that overflows on
  a mat or a plug is a danger, and a tight jar may burst. Set it in a dish.
- A probe that slips out reads the room, and the mat heats on until leavend has
  found that out. Fasten it, and fit a second one.
- Put an independent thermal cut-out or thermal fuse on the mat, in series with
  its supply. Relays weld and transistors fail closed; no software can open them.
  Never bypass a cut-out.
- Use a listed switching plug, or a low-voltage mat with a fused supply. Do no
  home wiring of mains. Supply it through ground-fault protection (GFCI or RCD).
- Test the plug's own timer: let it switch on, stop the broker, and see it go off.
- Pulling the plug is the only sure off.
- Use an active-high driver with a hardware pull-down, on a pin that starts low.
- Have a working smoke alarm in the room.
- Local electrical codes and licensed practice come before anything written here.
- A rise curve says when dough is ready to bake. It never says that it is safe to eat.
  Throw a starter with mould or a pink or orange tint away. Eat no raw flour or dough.
`
