package cli

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/prompt"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

func newWebCommand() *cobra.Command {
	return group("web", "Show or change who can reach the page", newWebShowCommand(), newWebOpenCommand(), newWebCloseCommand())
}

func newWebShowCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "show",
		Short: "Show the page's addresses, a QR code, and the set-up code",
		Long: `Show prints the addresses by which a phone reaches the page, and the first of
them as a QR code. As long as no password is set it prints the set-up code with
which a phone may choose one. It asks the daemon, which has to run.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		var now web.Reached
		if _, err := askPage(cmd.Context(), *file, &now); err != nil {
			return fmt.Errorf("web show: %w", err)
		}
		sayReached(prompt.New(cmd.InOrStdin(), cmd.OutOrStdout(), terminal(*file)), now)
		return nil
	}
	return cmd
}

func newWebOpenCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "open",
		Short: "Let phones in the home network reach the page",
		Long: `Open lets phones and computers in the home network reach the page. It asks how
the page shall be sent, and for a password where none is set; then it prints the
addresses, and a QR code for a phone's camera. It asks the daemon, which has to
run, and which starts again; the mat is off meanwhile.

Nothing of this reaches beyond the home network unless your router lets it
through. Don't let it: use a VPN from afar.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	tls := cmd.Flags().String("tls", "", `how the page is sent: "self-made" (encrypted) or "off"; left out, you are asked`)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := openWeb(cmd, *file, *tls); err != nil {
			return fmt.Errorf("web open: %w", err)
		}
		return nil
	}
	return cmd
}

func newWebCloseCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "close",
		Short: "Let only this board reach the page again",
		Args:  takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := setReach(cmd.Context(), *file, web.ReachAsk{}, new(web.Reached)); err != nil {
			return fmt.Errorf("web close: %w", err)
		}
		fmt.Fprintln(cmd.OutOrStdout(), text.Say("reach.board_only").In(terminal(*file)))
		return nil
	}
	return cmd
}

// openWeb asks what has to be known, and opens the page.
func openWeb(cmd *cobra.Command, file, tls string) error {
	ctx, t := cmd.Context(), prompt.New(cmd.InOrStdin(), cmd.OutOrStdout(), terminal(file))
	if tls != "" && tls != "off" && tls != "self-made" {
		return failure.Misuse(text.Fail("cli.web.tls", text.Name("tls", tls)))
	}
	var now web.Reached
	if _, err := askPage(ctx, file, &now); err != nil {
		return err
	}
	ask := web.ReachAsk{Open: true, TLS: tls}
	var err error
	if tls == "" && !now.OwnFiles {
		if ask.TLS, err = askTLS(ctx, t); err != nil {
			return err
		}
	}
	if !now.PasswordSet {
		if ask.Password, err = askPassword(ctx, t); err != nil {
			return err
		}
	}
	if err := setReach(ctx, file, ask, &now); err != nil {
		return err
	}
	sayReached(t, now)
	return nil
}

// askTLS says what each way means, and lets the owner choose.
func askTLS(ctx context.Context, t *prompt.Terminal) (string, error) {
	t.Say("cli.web.ways")
	for {
		said, err := t.Ask(ctx, "cli.web.which")
		switch {
		case err != nil:
			return "", err
		case said == "" || said == "1":
			return "self-made", nil
		case said == "2":
			return "off", nil
		}
	}
}

// askPassword asks for the first password.
func askPassword(ctx context.Context, t *prompt.Terminal) (string, error) {
	t.Say("cli.web.password")
	for {
		first, err := t.Secret(ctx, "cli.web.first")
		if err != nil || !t.Interactive() {
			return first, err
		}
		again, err := t.Secret(ctx, "cli.web.again")
		if err != nil || first == again {
			return first, err
		}
		t.Say("cli.web.differ")
	}
}

// askPage asks the daemon how its page is reached.
func askPage(ctx context.Context, file string, into *web.Reached) (socket string, err error) {
	socket, _, err = findDaemon(ctx, file)
	if err != nil {
		return "", err
	}
	return socket, askDaemon(ctx, socket, http.MethodGet, daemon.PagePath, hungAfter, into)
}

// startsWithin is how long a daemon may take to start again: on a slow board it
// reads its history first.
const startsWithin = time.Minute

// setReach asks the daemon for it, and waits until it has started again.
func setReach(ctx context.Context, file string, ask web.ReachAsk, into *web.Reached) error {
	socket, err := askPage(ctx, file, into)
	if err != nil {
		return err
	}
	before, same := into.Trouble, into.Open == ask.Open && (ask.TLS == "" || into.TLS == (ask.TLS == "self-made"))
	*into = web.Reached{}
	// A password takes a slow board some seconds.
	if err := tellDaemon(ctx, socket, http.MethodPut, daemon.PagePath, 6*hungAfter, ask, into); err != nil || same {
		return err
	}
	want := *into
	for until := time.Now().Add(startsWithin); time.Now().Before(until); {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(500 * time.Millisecond):
		}
		var now web.Reached
		switch err := askDaemon(ctx, socket, http.MethodGet, daemon.PagePath, hungAfter, &now); {
		case err != nil: // between two starts
		case now.Open == want.Open && now.TLS == want.TLS:
			return nil
		case now.Trouble != before:
			return errors.New(now.Trouble)
		}
	}
	return text.Fail("cli.web.away")
}

// sayReached says how the page is reached, with a code for a camera.
func sayReached(t *prompt.Terminal, r web.Reached) {
	if !r.Open {
		t.Say("cli.web.closed")
		return
	}
	t.Say("cli.web.phone")
	for _, a := range r.Addresses {
		t.Print("    " + a)
	}
	t.Print("\n" + drawQR(r.QR, t.Interactive()))
	if r.TLS && !r.OwnFiles {
		t.Say("reach.warns")
	}
	if r.Code != "" {
		t.Say("cli.web.code", text.Name("code", r.Code))
	}
}
