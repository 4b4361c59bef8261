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
		conf, err := loadConfig(*file)
		if err != nil {
			return err
		}
		return tryNotify(cmd.Context(), conf, append(args, "")[0], cmd.OutOrStdout())
	}
	return group("notify", "Messages to the baker", test)
}

// tryNotify sends the test and prints a line for each recipient.
func tryNotify(ctx context.Context, conf *config.Config, name string, out io.Writer) error {
	if len(conf.Notify) == 0 {
		return failure.Misuse(fmt.Errorf("%s names no recipient; add a [[notify]], see 'leavend config'", conf.File))
	}
	bad := 0
	people := notify.Recipients(conf)
	if i := slices.IndexFunc(people, func(p notify.Recipient) bool { return p.Name == notify.Browsers }); i >= 0 {
		// Which browsers there are is known to the daemon alone, which may run.
		fmt.Fprintf(out, "%s: send their test from the page, under Set-up\n", notify.Browsers)
		people = slices.Delete(people, i, i+1)
	}
	err := notify.Try(ctx, people, name, notify.OptsOf(conf), func(recipient string, err error) {
		if err != nil {
			bad++
			fmt.Fprintf(out, "%s: not sent: %v\n", recipient, err)
			return
		}
		fmt.Fprintf(out, "%s: sent\n", recipient)
	})
	if err != nil {
		return failure.Misuse(fmt.Errorf("there is no recipient %q in %s", name, conf.File))
	}
	if bad > 0 {
		return fmt.Errorf("%d of the messages did not go out", bad)
	}
	return nil
}
