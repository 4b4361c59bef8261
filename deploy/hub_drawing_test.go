package deploy_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"html"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var updateDrawing = flag.Bool("update-drawing", false, "draw guide/hub.svg again")

// announced is what a device announces to a hub, as far as the drawing shows it.
type announced struct {
	Device struct {
		Name        string
		Identifiers []string
	}
	Components map[string]entity
	entity     `json:"-"` // that is announced by itself
}

type entity struct {
	Name, Platform, Type, Topic string
	StateTopic                  string `json:"state_topic"`
	CommandTopic                string `json:"command_topic"`
	TemperatureCommandTopic     string `json:"temperature_command_topic"`
	ModeCommandTopic            string `json:"mode_command_topic"`
}

// TestHubDrawing holds the guide's drawing of the hub to what leavend announces: it is drawn
// from the golden file of the discovery, and -update-drawing draws it again.
func TestHubDrawing(t *testing.T) {
	golden, err := os.ReadFile("../cmd/leavend/internal/mqtt/testdata/discovery.txt")
	if err != nil {
		t.Fatal(err)
	}
	var all []announced
	for _, text := range regexp.MustCompile(`(?m)^homeassistant/\S+$`).Split(string(golden), -1)[1:] {
		var one announced
		if err := json.Unmarshal([]byte(text), &one); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal([]byte(text), &one.entity); err != nil {
			t.Fatal(err)
		}
		if i := slices.IndexFunc(all, func(a announced) bool { return slices.Equal(a.Device.Identifiers, one.Device.Identifiers) }); i >= 0 {
			one.Platform = "time"
			all[i].Components["by itself"] = one.entity
			continue
		}
		all = append(all, one)
	}
	got := drawHub(all)
	if *updateDrawing {
		if err := os.WriteFile("guide/hub.svg", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if want, err := os.ReadFile("guide/hub.svg"); err != nil || string(want) != got {
		t.Errorf("guide/hub.svg shows what leavend announced before (%v); go test ./deploy -run HubDrawing -update-drawing draws it again", err)
	}
}

// The drawing's columns and its line height, in pixels.
const (
	topicX, entityX, drawingWide = 20, 300, 700
	lineHigh                     = 18
)

// drawHub draws a box for each device: the topics to its left, and what appears in it.
func drawHub(all []announced) string {
	var b strings.Builder
	y := 56
	for _, one := range all {
		sends, takes := topicsOf(one)
		shows := entitiesOf(one)
		lines := max(len(shows)+1, len(sends)+len(takes)+1)
		high := lines*lineHigh + 16
		fmt.Fprintf(&b, `<rect x="%d" y="%d" width="%d" height="%d" rx="6" fill="#e8ddcb" stroke="#2b2622"/>`+"\n", entityX, y, drawingWide-entityX-20, high)
		write(&b, entityX+12, y+20, "bold", one.Device.Name)
		for i, line := range shows {
			write(&b, entityX+12, y+20+(i+1)*lineHigh, "normal", line)
		}
		for i, topic := range sends {
			at := y + 20 + i*lineHigh
			write(&b, topicX, at, "normal", topic)
			arrow(&b, at-4, true)
		}
		for i, topic := range takes {
			at := y + 20 + (len(sends)+i)*lineHigh
			write(&b, topicX, at, "normal", topic)
			arrow(&b, at-4, false)
		}
		y += high + 14
	}
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" font-family="sans-serif" role="img">
<title>What leavend announces to a home hub</title>
<desc>On the left the topics, on the right the devices that appear in the hub, with all that each shows and takes. Drawn by a test from what leavend announces.</desc>
<rect width="%d" height="%d" fill="#fffdf9"/>
`, drawingWide, y, drawingWide, drawingWide, y) + head(topicX, "topics of the broker") + head(entityX, "devices in the hub") + b.String() + "</svg>\n"
}

func head(x int, words string) string {
	return fmt.Sprintf(`<text x="%d" y="32" font-size="15" font-weight="bold" fill="#2b2622">%s</text>`+"\n", x, words)
}

func write(b *strings.Builder, x, y int, weight, words string) {
	if rest, goesOn := strings.CutPrefix(words, "    "); goesOn {
		x, words = x+20, rest
	}
	fmt.Fprintf(b, `<text x="%d" y="%d" font-size="13" font-weight="%s" fill="#2b2622">%s</text>`+"\n", x, y, weight, html.EscapeString(words))
}

// arrow goes from a topic into the hub, or back.
func arrow(b *strings.Builder, y int, in bool) {
	from, to, tip := entityX-44, entityX-6, -7
	if !in {
		from, to, tip = to, from, 7
	}
	fmt.Fprintf(b, `<polyline points="%d,%d %d,%d %d,%d %d,%d %d,%d" fill="none" stroke="#3d6b35" stroke-width="2"/>`+"\n", from, y, to, y, to+tip, y-4, to, y, to+tip, y+4)
}

// topicsOf are the topics that a device's entities read, and those that they write, in
// the alphabet's order.
func topicsOf(one announced) (sends, takes []string) {
	add := func(to *[]string, topic string) {
		if topic != "" && !slices.Contains(*to, topic) {
			*to = append(*to, topic)
		}
	}
	for _, c := range one.Components {
		add(&sends, c.StateTopic)
		add(&sends, c.Topic)
		for _, topic := range []string{c.CommandTopic, c.TemperatureCommandTopic, c.ModeCommandTopic} {
			add(&takes, topic)
		}
	}
	slices.Sort(sends)
	slices.Sort(takes)
	return sends, takes
}

// entitiesOf are the names of what a device shows and takes, each kind on lines of its own.
func entitiesOf(one announced) (lines []string) {
	kinds := map[string][]string{}
	for _, c := range one.Components {
		name, kind := c.Name, map[string]string{"button": "buttons", "time": "sets", "climate": "thermostat", "device_automation": "triggers", "event": "events"}[c.Platform]
		if kind == "" {
			kind = "shows"
		}
		switch {
		case c.Platform == "climate":
			name = "setpoint, heat, off"
		case name == "":
			name = c.Type
		}
		kinds[kind] = append(kinds[kind], name)
	}
	for _, kind := range []string{"shows", "thermostat", "sets", "buttons", "triggers", "events"} {
		names := kinds[kind]
		slices.Sort(names)
		line := kind + ": "
		for i, name := range names {
			if i < len(names)-1 {
				name += ","
			}
			if len(line)+len(name) > 50 {
				lines, line = append(lines, strings.TrimRight(line, " ")), "    "
			}
			line += name + " "
		}
		if len(names) > 0 {
			lines = append(lines, strings.TrimRight(line, " "))
		}
	}
	return lines
}
