package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/prompt"
	"leavend/cmd/leavend/internal/text"
)

func newMatAllowCommand() *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use:   "allow",
		Short: "Let the mat heat, after you have accepted its cautions",
		Long: `Let the mat heat: for the first time, or after 'leavend mat off'. The first
time it prints the cautions and asks you to accept them. It asks the daemon,
which has to run. A fault that keeps the mat off is another matter: see
'leavend mat acknowledge'.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.Flags().BoolVar(&yes, "yes", false, "accept the cautions: you have read them")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := allowMat(cmd.Context(), *file, cmd.InOrStdin(), cmd.OutOrStdout(), yes); err != nil {
			return fmt.Errorf("mat allow: %w", err)
		}
		return nil
	}
	return cmd
}

// allowMat asks the daemon to let its mat heat.
func allowMat(ctx context.Context, file string, in io.Reader, out io.Writer, yes bool) error {
	socket, a, err := findDaemon(ctx, file)
	reader := terminal(file)
	switch {
	case err != nil:
		return err
	case !a.Mat:
		return heating.ErrNoMat
	case !a.Accepted:
		t := prompt.New(in, out, reader)
		t.Print(heating.CautionText().In(reader) + "\n")
		if !yes {
			if err := t.Confirm(ctx, "cli.mat.accept"); err != nil {
				return err
			}
		}
		err = askDaemon(ctx, socket, http.MethodPost, daemon.MatAllowPath+"?cautions=accepted", hungAfter, &a)
	default:
		err = askDaemon(ctx, socket, http.MethodPost, daemon.MatAllowPath, hungAfter, &a)
	}
	if err != nil {
		return err
	}
	fmt.Fprintln(out, text.Say("cli.mat.allowed").In(reader))
	return nil
}

// findDaemon finds the daemon that has a mat: by the configuration, or, where
// that cannot be read, among those that run.
func findDaemon(ctx context.Context, file string) (socket string, a daemon.MatAnswer, err error) {
	sockets, err := socketsFor(file)
	if err != nil {
		return "", a, err
	}
	err = errNoDaemon
	for _, s := range sockets {
		answer := askDaemon(ctx, s, http.MethodGet, daemon.MatPath, hungAfter, &a)
		if answer == nil {
			return s, a, nil
		}
		if !errors.Is(answer, errNoDaemon) {
			err = answer
		}
	}
	if errors.Is(err, errNoDaemon) {
		err = text.Fail("cli.ask.not_running")
	}
	return "", a, err
}
