package notify

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// Every address that the guide to messages shows is one that Open takes.
func TestGuideShowsAddressesThatOpen(t *testing.T) {
	text, err := os.ReadFile("../../../../deploy/guide/messages.md")
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile("`([a-z]+://[^`]+)`").FindAllStringSubmatch(string(text), -1)
	if len(found) < 9 {
		t.Fatalf("the guide shows %d addresses, want at least 9", len(found))
	}
	for _, m := range found {
		t.Run(strings.SplitN(m[1], ":", 2)[0], func(t *testing.T) {
			if _, err := Open(m[1], ""); err != nil {
				t.Errorf("%s: %v", m[1], err)
			}
		})
	}
}
