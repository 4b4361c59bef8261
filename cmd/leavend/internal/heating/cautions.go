package heating

import "leavend/cmd/leavend/internal/text"

// Cautions are what a person reads before he lets a mat heat for the first
// time. Their words stand in the catalogue; the README, the man page, `leavend
// check`, `leavend mat allow` and the page all have them from there.
func Cautions() []text.Message {
	return []text.Message{
		text.Say("caution.controller"),
		text.Say("caution.mat"),
		text.Say("caution.alone"),
		text.Say("caution.overflow"),
		text.Say("caution.probe"),
		text.Say("caution.cutout"),
		text.Say("caution.supply"),
		text.Say("caution.timer"),
		text.Say("caution.unplug"),
		text.Say("caution.driver"),
		text.Say("caution.smoke"),
		text.Say("caution.practice"),
		text.Say("caution.curve"),
	}
}

// CautionText is the cautions as a terminal shows them.
func CautionText() text.Message {
	return text.Say("check.mat.cautions", text.List("all", Cautions()))
}

// CautionLines are the cautions in a reader's words.
func CautionLines(r text.Reader) []string {
	var lines []string
	for _, c := range Cautions() {
		lines = append(lines, c.In(r))
	}
	return lines
}
