package config

import "testing"

// TestRemove takes one table out and leaves the others, with their comments.
func TestRemove(t *testing.T) {
	const phone = "[[notify]]\nname = \"phone\"\nurl = \"ntfy://ntfy.example/a\"\nkinds = [\n  \"top\",\n]\n"
	const mail = "[[notify]]\nname = \"mail\"\nurl = \"ntfy://ntfy.example/b\" # ours\n"
	for _, tt := range []struct{ name, text, table, want string }{
		{"the last", "[web]\non = true\n\n" + phone, "phone", "[web]\non = true\n"},
		{"the first of two", phone + "\n# mail for the baker\n" + mail, "phone", "# mail for the baker\n" + mail},
		{"before another section", phone + "\n# the plan\n[plan]\nroom_c = 20\n", "phone", "# the plan\n[plan]\nroom_c = 20\n"},
		{"one that is not there", mail, "phone", mail},
		{"after the reference", Reference() + "\n" + phone, "phone", Reference()},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := Remove([]byte(tt.text), "leavend.toml", "notify", tt.table)
			if err != nil || string(got) != tt.want {
				t.Errorf("%v, got\n%s\nwant\n%s", err, Difference([]byte(tt.want), got), "")
			}
		})
	}
}
