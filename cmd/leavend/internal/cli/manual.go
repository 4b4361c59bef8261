package cli

import (
	"fmt"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// newManualCommand prints the man pages, which the package is built with. The
// pages are made of what the commands say of themselves, so that the two
// cannot tell different things.
func newManualCommand() *cobra.Command {
	return &cobra.Command{
		Use:       "manual {leavend|leavend.toml}",
		Short:     "Print a man page: leavend(1) or leavend.toml(5)",
		Hidden:    true,
		Args:      cobra.MatchAll(cobra.ExactArgs(1), cobra.OnlyValidArgs),
		ValidArgs: []string{"leavend", "leavend.toml"},
		RunE: func(cmd *cobra.Command, args []string) error {
			page := configPage()
			if args[0] == "leavend" {
				page = programPage(cmd.Root())
			}
			_, err := fmt.Fprint(cmd.OutOrStdout(), page)
			return err
		},
	}
}

// programPage is leavend(1).
func programPage(root *cobra.Command) string {
	var p manual
	p.title("leavend", 1, root.Short)
	p.section("SYNOPSIS")
	p.printf(".B leavend\n.I command\n.RI [ options ]\n")
	p.section("DESCRIPTION")
	p.text(`leavend looks down into a jar of sourdough starter with a distance sensor and reads a temperature probe. It tells when the starter will stand at its peak and calls it when it does, holds a heat mat at a setpoint, and keeps every curve. It runs as a service; its page is on port 8420.

A new board is set up in three steps: describe it in /etc/leavend/leavend.toml, look at it with "leavend check", and start it with "systemctl restart leavend".`)
	p.section("COMMANDS")
	p.commands(root, "")
	p.section("BEFORE A HEAT MAT IS SWITCHED")
	p.cautions()
	p.section("EXIT STATUS")
	p.entry("0", "the command did what was asked")
	p.entry("1", "it tried and failed")
	p.entry("2", "wrong usage or configuration; nothing was switched on")
	p.section("ENVIRONMENT")
	p.entry("LEAVEND_CONFIG", "the configuration file, where --config does not say")
	p.section("FILES")
	for _, f := range [][2]string{
		{defaultConfigFile, "the configuration; see leavend.toml(5)"},
		{"/var/lib/leavend", "history, journal and state: back this folder up"},
		{"/run/leavend/mat.json", "what \"leavend mat off\" switches off"},
		{"/run/leavend/mat-memory.json", "a fault, a rest and the on-time of the mat, kept here too for the case that the disk is full"},
		{"/usr/share/doc/leavend", "guides, licences, and samples for brokers and metrics collectors"},
	} {
		p.entry(f[0], f[1])
	}
	p.section("SEE ALSO")
	p.printf(".BR leavend.toml (5),\n.BR systemctl (1),\n.BR journalctl (1)\n")
	return p.String()
}

// configPage is leavend.toml(5): the reference as it stands.
func configPage() string {
	var p manual
	p.title("leavend.toml", 5, "configuration of leavend")
	p.section("DESCRIPTION")
	p.text(`The file is TOML. Every key is shown here at its default, with what a higher or a lower value does. "leavend config" prints the same text, and "leavend check" says what a changed file will do; a key that leavend does not know is an error.`)
	p.section("EVERY KEY")
	p.printf(".nf\n")
	for line := range strings.Lines(config.Reference()) {
		p.printf("%s\n", escape(strings.TrimSuffix(line, "\n")))
	}
	p.printf(".fi\n")
	p.section("SEE ALSO")
	p.printf(".BR leavend (1)\n")
	return p.String()
}

// manual is a page in the language of man(7).
type manual struct{ strings.Builder }

func (m *manual) printf(format string, a ...any) { fmt.Fprintf(m, format, a...) }

func (m *manual) title(name string, section int, short string) {
	m.printf(".TH %s %d \"\" \"leavend %s\"\n", strings.ToUpper(name), section, version.Version)
	m.section("NAME")
	m.printf("%s \\- %s\n", escape(name), escape(lower(short)))
}

func (m *manual) section(name string) { m.printf(".SH %s\n", name) }

// text writes paragraphs that are apart by an empty line.
func (m *manual) text(s string) {
	for i, paragraph := range strings.Split(strings.TrimSpace(s), "\n\n") {
		if i > 0 {
			m.printf(".PP\n")
		}
		for line := range strings.Lines(paragraph) {
			m.printf("%s\n", escape(strings.TrimSpace(line)))
		}
	}
}

// entry writes a term and, indented below it, what it means.
func (m *manual) entry(term, meaning string) {
	m.printf(".TP\n.B %s\n%s\n", escape(term), escape(meaning))
}

// commands writes each command below c with its options, the hidden ones and
// those that cobra adds by itself left out.
func (m *manual) commands(c *cobra.Command, path string) {
	for _, sub := range c.Commands() {
		switch {
		case sub.HasAvailableSubCommands() && sub.Name() != "completion":
			m.commands(sub, path+sub.Name()+" ")
			continue
		case sub.Hidden || sub.Name() == "help":
			continue
		}
		m.printf(".SS %s\n", escape(path+sub.Use))
		words := sub.Long
		if words == "" || sub.Name() == "completion" {
			words = sub.Short + "."
		}
		m.text(words)
		sub.LocalFlags().VisitAll(func(f *pflag.Flag) {
			if !f.Hidden && f.Name != "help" {
				m.option(f)
			}
		})
	}
}

func (m *manual) option(f *pflag.Flag) {
	kind, usage := pflag.UnquoteUsage(f)
	name := "--" + f.Name
	if f.Shorthand != "" {
		name = "-" + f.Shorthand + ", " + name
	}
	if kind != "" {
		name += " " + kind
	}
	if f.DefValue != "" && f.DefValue != "false" && f.DefValue != "0" && f.DefValue != "0s" && f.DefValue != "[]" {
		usage += " (default " + f.DefValue + ")"
	}
	m.entry(name, usage)
}

// cautions writes what everybody must read who switches a mat.
func (m *manual) cautions() {
	_, list, _ := strings.Cut(heating.CautionText().In(text.Reader{}), "\n")
	for line := range strings.Lines(list) {
		words, first := strings.CutPrefix(strings.TrimSpace(line), "- ")
		if first {
			m.printf(".IP \\(bu 2\n")
		}
		m.printf("%s\n", escape(words))
	}
}

// escape keeps text from being read as an instruction of roff.
func escape(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`).Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s
}

// lower begins a sentence as a man page's NAME line wants it.
func lower(s string) string { return strings.ToLower(s[:1]) + s[1:] }
