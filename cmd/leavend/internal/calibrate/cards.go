package calibrate

import (
	"context"
	"math"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor/laser"
)

// cardReads is how many readings are taken of a card; ST's driver takes as many.
const cardReads = 50

// cards are where cards lie below a laser ranger: white paper near it, at the
// 140 mm of ST's manual of the VL53L1X (UM2356), where a glass hardly counts;
// and the dull card that ST's notes ask for where it does. A card for the glass
// that lies nearer than the surfaces it is to put right makes the error of its
// distance greater there.
type cards struct {
	near, nearMin, nearMax, farMin float64
	far                            string // the sentence that asks for the far card
}

func cardsFor(chip config.Chip) cards {
	if chip == config.VL6180X {
		return cards{50, 30, 60, 100, "cli.calibrate.glass_black"}
	}
	return cards{140, 80, 150, 250, "cli.calibrate.glass_grey"}
}

// cards finds by how much a laser ranger is off, and what a cover glass throws
// back. It comes first, for it changes the distances.
func (c *calibration) cards(ctx context.Context, f Opts) error {
	switch {
	case !c.eye.Chip.Laser() && (f.Card != "" || f.Offset != ""):
		return failure.Misuse(text.Fail("cli.calibrate.no_cards", text.Name("chip", string(c.eye.Chip))))
	case f.Offset != "":
		return c.offsetFlag(ctx, f.Offset)
	case f.Card != "":
		return c.glassFlag(ctx, f.Card)
	case c.eye.Chip.Laser() && !f.scripted():
		return c.twoCards(ctx)
	}
	return nil
}

// twoCards asks for the two cards.
func (c *calibration) twoCards(ctx context.Context) error {
	at := cardsFor(c.eye.Chip)
	mm, ok, err := c.talk.length(ctx, at.nearMin, at.nearMax, "cli.calibrate.paper", text.Length("at", at.near), text.Length("low", at.nearMin), text.Length("high", at.nearMax))
	if err != nil || !ok {
		return err
	}
	near, err := c.measureCard(ctx, mm)
	if err != nil {
		return err
	}
	c.talk.Say("cli.calibrate.seen", text.Length("at", near.SeenMM))
	farMin := max(at.farMin, 2*near.TrueMM)
	mm, ok, err = c.talk.length(ctx, farMin, 1300, at.far, text.Length("low", farMin))
	if err != nil {
		return err
	}
	if !ok {
		return c.setOffset(near.TrueMM - near.SeenMM)
	}
	far, err := c.measureCard(ctx, mm)
	if err != nil {
		return err
	}
	offset, kcps, err := laser.Solve(near, far)
	if err != nil {
		return err
	}
	c.talk.Say("cli.calibrate.seen", text.Length("at", far.SeenMM))
	if err := c.setOffset(offset); err != nil {
		return err
	}
	return c.setGlass(kcps)
}

// offsetFlag measures the offset with white paper at a known distance. What a
// glass does there is taken for a part of it, as in ST's own procedure.
func (c *calibration) offsetFlag(ctx context.Context, at string) error {
	lies := cardsFor(c.eye.Chip)
	mm, err := parseMM("--offset", at, lies.nearMin, lies.nearMax)
	if err != nil {
		return failure.Misuse(err)
	}
	near, err := c.measureCard(ctx, mm)
	if err != nil {
		return err
	}
	c.talk.Say("cli.calibrate.seen", text.Length("at", near.SeenMM))
	return c.setOffset(near.TrueMM - near.SeenMM - near.TrueMM*c.eye.CrosstalkKcps/near.Kcps)
}

// glassFlag measures the glass with a card at a known distance, of a sensor
// whose offset is known.
func (c *calibration) glassFlag(ctx context.Context, at string) error {
	mm, err := parseMM("--crosstalk", at, cardsFor(c.eye.Chip).farMin, 1300)
	if err != nil {
		return failure.Misuse(err)
	}
	far, err := c.measureCard(ctx, mm)
	if err != nil {
		return err
	}
	c.talk.Say("cli.calibrate.seen", text.Length("at", far.SeenMM+c.eye.OffsetMM))
	return c.setGlass(laser.Glass(far, c.eye.OffsetMM))
}

// measureCard measures a card.
func (c *calibration) measureCard(ctx context.Context, mm float64) (laser.Card, error) {
	dev, err := c.bench.Ranger(c.eye)
	if err != nil {
		return laser.Card{}, err
	}
	return dev.Card(ctx, mm, cardReads)
}

// mostOffsetMM is more than any of these chips is off; beyond it something lies
// in the way, or the ruler is wrong. The config takes as much.
const mostOffsetMM = 100

// setOffset takes an offset over.
func (c *calibration) setOffset(mm float64) error {
	mm = math.Round(mm*10) / 10
	if math.Abs(mm) > mostOffsetMM {
		return text.Fail("cli.calibrate.far_off", text.Length("by", mm))
	}
	c.eye.OffsetMM = mm
	switch {
	case mm > 0:
		c.talk.Say("cli.calibrate.short", text.Length("by", mm))
	case mm < 0:
		c.talk.Say("cli.calibrate.long", text.Length("by", -mm))
	default:
		c.talk.Say("cli.calibrate.exact")
	}
	return nil
}

// setGlass takes the light of a cover glass over.
func (c *calibration) setGlass(kcps float64) error {
	if most := config.MostCrosstalk(c.eye.Chip); kcps > most {
		return text.Fail("cli.calibrate.glass_much", text.Number("kcps", math.Round(kcps)), text.Name("chip", string(c.eye.Chip)), text.Number("most", most))
	}
	c.eye.CrosstalkKcps = kcps
	if kcps == 0 {
		c.talk.Say("cli.calibrate.glass_none")
		return nil
	}
	c.talk.Say("cli.calibrate.glass", text.Number("kcps", kcps))
	return nil
}
