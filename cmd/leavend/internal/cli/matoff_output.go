package cli

import (
	"context"
	"fmt"

	"periph.io/x/conn/v3/gpio"

	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/text"
)

// outputOff switches the output of a note off, and says how that is known.
func outputOff(ctx context.Context, n heating.Note) (what text.Message, err error) {
	if n.Line != nil {
		if err := lineOff(*n.Line); err != nil {
			return what, err
		}
		return text.Say("cli.off.line", text.Name("line", n.Line.Line)), nil
	}
	if err := plugOff(ctx, *n.Plug); err != nil {
		return what, text.Fail("cli.off.timer", text.Cause("err", err), text.Duration("limit", n.Plug.Lease))
	}
	return text.Say("cli.off.plug"), nil
}

// lineOff takes the line and drives it low. When the process ends the kernel
// releases it: it then stays low or becomes an input, and the pull-down holds
// it.
func lineOff(l heating.Line) error {
	pin, err := hardware.OpenLine(l.Chip, l.Line)
	if err != nil {
		return err
	}
	if err := pin.Out(gpio.Low); err != nil {
		return fmt.Errorf("line %s: %w", l.Line, err)
	}
	return nil
}
