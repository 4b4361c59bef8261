package calibrate

import (
	"context"
	"fmt"
	"math"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
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
	far                            string
}

func cardsFor(chip config.Chip) cards {
	if chip == config.VL6180X {
		return cards{50, 30, 60, 100, "a dull black card, which throws back next to nothing (3 %)"}
	}
	return cards{140, 80, 150, 250, "a dull grey card, such as a photographer's, which throws back a sixth of the light (17 %)"}
}

// cards finds by how much a laser ranger is off, and what a cover glass throws
// back. It comes first, for it changes the distances.
func (c *calibration) cards(ctx context.Context, f Opts) error {
	switch {
	case !c.eye.Chip.Laser() && (f.Card != "" || f.Offset != ""):
		return failure.Misuse(fmt.Errorf("--offset and --crosstalk: a %s is not calibrated by cards; only laser rangers are", c.eye.Chip))
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
	mm, ok, err := c.talk.length(ctx, at.nearMin, at.nearMax, "\nFirst, is it right? Lay white paper flat below the sensor, %s away (%s to\n%s will do), and type how far; or press Enter to leave its offset as it is: ", c.show(at.near), c.show(at.nearMin), c.show(at.nearMax))
	if err != nil || !ok {
		return err
	}
	near, err := c.measureCard(ctx, mm)
	if err != nil {
		return err
	}
	c.talk.Say("  It sees the paper at %s.", c.show(near.SeenMM))
	farMin := max(at.farMin, 2*near.TrueMM)
	mm, ok, err = c.talk.length(ctx, farMin, 1300, "\nDoes it look through a cover glass? Then darken the room and lay below it, at least %s away,\n%s;\nwhite paper throws back too much. Type how far it is; without a glass just press Enter: ", c.show(farMin), at.far)
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
	c.talk.Say("  It sees the card at %s.", c.show(far.SeenMM))
	if err := c.setOffset(offset); err != nil {
		return err
	}
	return c.setGlass(kcps)
}

// offsetFlag measures the offset with white paper at a known distance. What a
// glass does there is taken for a part of it, as in ST's own procedure.
func (c *calibration) offsetFlag(ctx context.Context, text string) error {
	at := cardsFor(c.eye.Chip)
	mm, err := parseMM("--offset", text, at.nearMin, at.nearMax)
	if err != nil {
		return failure.Misuse(err)
	}
	near, err := c.measureCard(ctx, mm)
	if err != nil {
		return err
	}
	c.talk.Say("  It sees the paper at %s.", c.show(near.SeenMM))
	return c.setOffset(near.TrueMM - near.SeenMM - near.TrueMM*c.eye.CrosstalkKcps/near.Kcps)
}

// glassFlag measures the glass with a card at a known distance, of a sensor
// whose offset is known.
func (c *calibration) glassFlag(ctx context.Context, text string) error {
	mm, err := parseMM("--crosstalk", text, cardsFor(c.eye.Chip).farMin, 1300)
	if err != nil {
		return failure.Misuse(fmt.Errorf("%w: nearer, an offset would be taken for a glass", err))
	}
	far, err := c.measureCard(ctx, mm)
	if err != nil {
		return err
	}
	c.talk.Say("  It sees the card at %s.", c.show(far.SeenMM+c.eye.OffsetMM))
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
		return fmt.Errorf("it would be off by %s: something lies between paper and sensor, or the distance is not what was typed", c.show(mm))
	}
	c.eye.OffsetMM = mm
	switch {
	case mm > 0:
		c.talk.Say("  Its readings are %s short; from now on that is added.", c.show(mm))
	case mm < 0:
		c.talk.Say("  Its readings are %s long; from now on that is taken off.", c.show(-mm))
	default:
		c.talk.Say("  It has no offset.")
	}
	return nil
}

// setGlass takes the light of a cover glass over.
func (c *calibration) setGlass(kcps float64) error {
	if most := config.MostCrosstalk(c.eye.Chip); kcps > most {
		return fmt.Errorf("the cover glass throws back %.0f thousand counts a second, and the %s can take off %.0f: clean the glass, bring it nearer to the chip, or do without it", kcps, c.eye.Chip, most)
	}
	c.eye.CrosstalkKcps = kcps
	if kcps == 0 {
		c.talk.Say("  The glass throws nothing back, or there is none.")
		return nil
	}
	c.talk.Say("  The glass throws back %.3f thousand counts a second; from now on they are taken off.", kcps)
	return nil
}
