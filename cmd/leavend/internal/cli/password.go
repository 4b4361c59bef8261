package cli

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/prompt"
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
		conf, err := loadConfig(*file)
		if err != nil {
			return err
		}
		t := prompt.New(cmd.InOrStdin(), cmd.OutOrStdout())
		if !*sure {
			said, err := t.Ask(cmd.Context(), "Forget the page's password? Everybody is signed out. Type yes: ")
			if err != nil || !strings.EqualFold(said, "yes") {
				return errors.New("nothing was forgotten; type yes, or use --yes")
			}
		}
		aside, err := access.Forget(conf.DataDir, time.Now())
		if err != nil {
			return err
		}
		if aside == "" {
			return fmt.Errorf("no password is kept in %s", conf.DataDir)
		}
		t.Say("The old one is kept as %s.", aside)
		t.Say("'sudo leavend web show' now says the set-up code for a new one.")
		return nil
	}
	return group("password", "The page's password", forget)
}
