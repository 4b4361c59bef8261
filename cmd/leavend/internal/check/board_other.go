//go:build !linux

package check

import "errors"

func free(string) (uint64, error) { return 0, errors.ErrUnsupported }

func synced() (bool, error) { return false, errors.ErrUnsupported }
