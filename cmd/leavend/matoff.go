package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/spf13/cobra"
	"periph.io/x/conn/v3/gpio"

	"leavend/cmd/leavend/internal/hardware"
	"leavend/control/plug"
)

// matState is the note the daemon leaves when it opens a mat's output, so
// that `leavend mat off` can switch it off without config and daemon. Low is
// off: only active-high lines exist here.
type matState struct {
	Version int       `json:"version"` // 1
	PID     int       `json:"pid"`
	Line    *matLine  `json:"line,omitempty"`
	Plug    *matPlug  `json:"plug,omitempty"`
	Written time.Time `json:"written"`
}

// matLine is a GPIO output.
type matLine struct {
	Chip string `json:"chip"` // path; empty for the board's main chip
	Line string `json:"line"` // offset or name
}

// matPlug is an MQTT plug: where its broker is, and the messages that switch
// it off. The password stands here because the config may be gone; the file
// is readable by its owner alone.
type matPlug struct {
	Broker   string         `json:"broker"` // mqtt://host:1883; empty for the daemon's own, which ends with it
	User     string         `json:"user,omitempty"`
	Password string         `json:"password,omitempty"`
	CAFile   string         `json:"ca_file,omitempty"`
	CertFile string         `json:"cert_file,omitempty"`
	KeyFile  string         `json:"key_file,omitempty"`
	Off      []plug.Message `json:"off"`
	Lease    time.Duration  `json:"lease_ns"` // after which the plug lets go by itself
}

// defaultMatStates are where the note is looked for, the first that exists.
func defaultMatStates() []string {
	return []string{"/run/leavend/mat.json", "/var/lib/leavend/mat.json"}
}

// writeMatState leaves the note at path, readable by its owner alone and
// never half written. The daemon calls it before it opens the output.
func writeMatState(path string, s matState) error {
	s.Version, s.PID, s.Written = 1, os.Getpid(), time.Now()
	b, err := json.Marshal(s)
	if err != nil {
		return fmt.Errorf("mat state: %w", err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("mat state: %w", err)
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".mat-*")
	if err != nil {
		return fmt.Errorf("mat state: %w", err)
	}
	_, err = tmp.Write(append(b, '\n'))
	if err = errors.Join(err, tmp.Close()); err == nil {
		err = os.Rename(tmp.Name(), path)
	}
	if err != nil {
		_ = os.Remove(tmp.Name()) // The error that matters is the one returned.
		return fmt.Errorf("mat state: %w", err)
	}
	return nil
}

// readMatState reads the note at path. A note that is missing or torn is not
// an error of its own: found is false.
func readMatState(path string) (s matState, found bool, err error) {
	b, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return s, false, nil
	}
	if err == nil {
		err = json.Unmarshal(b, &s)
	}
	if err != nil {
		return s, false, fmt.Errorf("%s: %w", path, err)
	}
	return s, s.Line != nil || s.Plug != nil, nil
}

func newMatCommand() *cobra.Command {
	root := &cobra.Command{
		Use:   "mat",
		Short: "Act on the heat mat directly",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.AddCommand(newMatOffCommand(), newMatAcknowledgeCommand())
	return root
}

func newMatOffCommand() *cobra.Command {
	var state, chip, line string
	cmd := &cobra.Command{
		Use:   "off",
		Short: "Switch the mat off, without config and without the daemon",
		Long: `Switch the mat off. It reads the note that the daemon leaves when it opens
the mat's output, so it needs neither config nor daemon, and may be run as
often as you like. systemd runs it after the daemon has ended in any way.

It ends with 0 when the mat is off, or when there is no mat to switch. It ends
with 1 when it could not do it: then pull the mat's plug.`,
		Args: takes(0, 0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := matToSwitch(state, chip, line)
			if err != nil {
				return fmt.Errorf("mat off: cannot tell which mat there is: %w; give --line, or pull its plug", err)
			}
			said, err := switchOff(cmd.Context(), s)
			if said != "" {
				fmt.Fprintln(cmd.OutOrStdout(), said)
			}
			return err
		},
	}
	cmd.Flags().StringVar(&state, "state", "", "file the daemon left (default: where it leaves it)")
	cmd.Flags().StringVar(&chip, "chip", "", "GPIO chip, such as /dev/gpiochip0 (with --line)")
	cmd.Flags().StringVar(&line, "line", "", "GPIO line to drive low, whatever the file says")
	return cmd
}

// matToSwitch finds out which output there is. A note it cannot read is no
// reason not to try the others.
func matToSwitch(state, chip, line string) (matState, error) {
	if line != "" {
		return matState{Line: &matLine{Chip: chip, Line: line}}, nil
	}
	paths := defaultMatStates()
	if state != "" {
		paths = []string{state}
	}
	var errs []error
	for _, p := range paths {
		if _, err := os.Stat(p); state != "" && err != nil {
			return matState{}, err // who names a file means it
		}
		s, found, err := readMatState(p)
		if found {
			return s, nil
		}
		errs = append(errs, err)
	}
	return matState{}, errors.Join(errs...)
}

// switchOff drives every output of the note to its safe state.
func switchOff(ctx context.Context, s matState) (said string, err error) {
	if s.Line == nil && s.Plug == nil {
		return "mat off: no mat was opened here; nothing to switch", nil
	}
	if s.Line != nil {
		if err := lineOff(*s.Line); err != nil {
			return "", err
		}
		said = "mat off: line " + s.Line.Line + " is low"
	}
	if s.Plug != nil {
		text, err := plugOff(ctx, *s.Plug)
		if err != nil {
			return said, err
		}
		said = text
	}
	return said, nil
}

// lineOff takes the line and drives it low. When the process ends the kernel
// releases it: it then stays low or becomes an input, and the pull-down holds
// it.
func lineOff(l matLine) error {
	pin, err := hardware.OpenLine(l.Chip, l.Line)
	if err != nil {
		return fmt.Errorf("mat off: %w", err)
	}
	if err := pin.Out(gpio.Low); err != nil {
		return fmt.Errorf("mat off: line %s: %w", l.Line, err)
	}
	return nil
}

// plugPatience is how long a broker may take. The plug's own timer is what
// counts; this is only sooner.
const plugPatience = 2 * time.Second

// plugOff sends the plug its off-command.
func plugOff(ctx context.Context, p matPlug) (string, error) {
	if p.Broker == "" {
		return fmt.Sprintf("mat off: the broker ended with the daemon; the plug lets go by itself within %s", p.Lease), nil
	}
	o := mqtt.NewClientOptions().AddBroker(p.Broker).SetClientID(fmt.Sprintf("leavend-mat-off-%d", os.Getpid())).
		SetUsername(p.User).SetPassword(p.Password).SetConnectTimeout(plugPatience).SetAutoReconnect(false)
	trust, err := brokerTLS(p.CAFile, p.CertFile, p.KeyFile)
	if err != nil {
		return "", fmt.Errorf("mat off: %w; the plug lets go by itself within %s", err, p.Lease)
	}
	if trust != nil {
		o.SetTLSConfig(trust)
	}
	c := mqtt.NewClient(o)
	defer c.Disconnect(50)
	if err := finish(ctx, c.Connect()); err != nil {
		return "", fmt.Errorf("mat off: %w; the plug lets go by itself within %s", err, p.Lease)
	}
	for _, m := range p.Off {
		// QoS 1: the broker's word that it has the message. Never retained.
		if err := finish(ctx, c.Publish(m.Topic, 1, false, m.Payload)); err != nil {
			return "", fmt.Errorf("mat off: %w; the plug lets go by itself within %s", err, p.Lease)
		}
	}
	return "mat off: told the plug", nil
}

// finish waits for an act of the MQTT client.
func finish(ctx context.Context, t mqtt.Token) error {
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(plugPatience):
		return errors.New("the broker does not answer")
	}
}
