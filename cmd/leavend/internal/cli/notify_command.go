package cli

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/text"
)

func newNotifyCommand() *cobra.Command {
	test := &cobra.Command{
		Use:   "test [NAME]",
		Short: "Send a test message now, to one recipient of the config or to all",
		Long: `Test sends a message to the recipient called NAME, or to every one, and says what
came of it. It keeps no quiet hours. It needs no running daemon and disturbs
none. It ends with 1 when a message was not taken.`,
		Args: takes(0, 1),
	}
	file := addConfigFlag(test)
	test.RunE = func(cmd *cobra.Command, args []string) error {
		conf, err := loadForTerminal(*file)
		if err != nil {
			return err
		}
		return tryNotify(cmd.Context(), conf, append(args, "")[0], cmd.OutOrStdout())
	}
	return group("notify", "Test the messages to the baker", test)
}

// tryNotify sends the test and prints a line for each recipient.
func tryNotify(ctx context.Context, conf *config.Config, name string, out io.Writer) error {
	if len(conf.Notify) == 0 {
		return failure.Misuse(text.Fail("cli.notify.none", text.Name("file", conf.File)))
	}
	bad, reader := 0, conf.Reader()
	say := func(m text.Message) { fmt.Fprintln(out, m.In(reader)) }
	people := notify.Recipients(conf)
	if i := slices.IndexFunc(people, func(p notify.Recipient) bool { return p.Name == notify.Browsers }); i >= 0 {
		// Which browsers there are is known to the daemon alone, which may run.
		say(text.Say("cli.notify.browsers"))
		people = slices.Delete(people, i, i+1)
	}
	err := notify.Try(ctx, people, name, notify.OptsOf(conf), func(recipient string, err error) {
		if err != nil {
			bad++
			say(text.Say("cli.notify.failed", text.Name("name", recipient), text.Cause("err", err)))
			return
		}
		say(text.Say("cli.notify.sent", text.Name("name", recipient)))
	})
	if err != nil {
		return failure.Misuse(text.Fail("cli.notify.unknown", text.Name("name", name), text.Name("file", conf.File)))
	}
	if bad > 0 {
		return text.Fail("cli.notify.some", text.Count("n", bad))
	}
	return nil
}
