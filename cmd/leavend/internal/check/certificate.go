package check

import (
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"time"
)

// Certificate checks that a certificate and its key can be read, belong
// together, and are valid now and for some time to come.
func (b Board) Certificate(topic, certFile, keyFile string) Result {
	pair, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err != nil {
		r := Result{Topic: topic, Without: partOf(topic), Level: Fail, Says: fmt.Sprintf("its certificate cannot be used: %v.", err),
			Do: fmt.Sprintf("check that %s and %s are PEM files that belong together", certFile, keyFile)}
		if errors.Is(err, fs.ErrPermission) {
			r.Do = "sudo chgrp leavend " + keyFile + " && sudo chmod 640 " + keyFile
		}
		return r
	}
	leaf := pair.Leaf
	until := leaf.NotAfter.Format("2006-01-02")
	switch {
	case b.Now.After(leaf.NotAfter):
		return Result{Topic: topic, Without: partOf(topic), Level: Fail, Says: "its certificate ran out on " + until + ".", Do: "renew it, then restart leavend"}
	case b.Now.Before(leaf.NotBefore):
		return Result{Topic: topic, Without: partOf(topic), Level: Fail, Says: "its certificate is valid from " + leaf.NotBefore.Format("2006-01-02") + " only.", Do: "check the board's clock: timedatectl status"}
	case leaf.NotAfter.Sub(b.Now) < 14*24*time.Hour:
		return Result{Topic: topic, Level: Warn, Says: "its certificate runs out on " + until + ".", Do: "renew it, then restart leavend"}
	}
	return Result{Topic: topic, Level: Pass, Says: "its certificate is valid until " + until + "."}
}
