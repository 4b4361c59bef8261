package failure

import (
	"errors"
	"fmt"
	"testing"

	"leavend/cmd/leavend/internal/text"
)

func TestCode(t *testing.T) {
	plain := errors.New("no such file")
	for _, tt := range []struct {
		name string
		err  error
		want int
	}{
		{"nothing wrong", nil, Done},
		{"no misuse", Misuse(nil), Done},
		{"it failed", plain, Failed},
		{"wrong usage", Misuse(plain), Usage},
		{"wrong usage further down", fmt.Errorf("plan: %w", Misuse(plain)), Usage},
		{"usage, said already", Misuse(ErrSaid), Usage},
		{"a refusal", &Refusal{Code: "holds", Say: text.Say("error.not_fed")}, Failed},
	} {
		if got := Code(tt.err); got != tt.want {
			t.Errorf("%s: got %d, want %d", tt.name, got, tt.want)
		}
	}
	if err := Misuse(plain); !errors.Is(err, plain) || err.Error() != plain.Error() {
		t.Errorf("the cause of %v is lost", err)
	}
}
