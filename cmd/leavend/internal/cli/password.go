package cli

import (
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/prompt"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web/access"
)

func newPasswordCommand() *cobra.Command {
	forget := &cobra.Command{
		Use:   "forget",
		Short: "Forget the page's password, so that a new one can be chosen",
		Long: `Forget sets aside the page's password and who is signed in; history, config and
mat stay as they are. A daemon that runs notices at once; 'leavend web show' says
the set-up code with which a new password is chosen on the page.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(forget)
	sure := forget.Flags().Bool("yes", false, "do not ask whether you are sure")
	forget.RunE = func(cmd *cobra.Command, _ []string) error {
		conf, err := loadForTerminal(*file)
		if err != nil {
			return err
		}
		t := prompt.New(cmd.InOrStdin(), cmd.OutOrStdout(), conf.Reader())
		if !*sure {
			if err := t.Confirm(cmd.Context(), "cli.password.sure"); err != nil {
				return err
			}
		}
		aside, err := access.Forget(conf.DataDir, time.Now())
		if err != nil {
			return err
		}
		if aside == "" {
			return text.Fail("cli.password.none", text.Name("dir", conf.DataDir))
		}
		t.Say("cli.password.forgotten", text.Name("file", aside))
		return nil
	}
	return group("password", "Forget the page's password", forget)
}
