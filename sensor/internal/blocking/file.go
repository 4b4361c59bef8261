package blocking

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"syscall"
)

// File is a file of sysfs that is read again and again. It is kept open, for
// a read from the start makes the kernel measure again; it is opened again
// after an error, for the device may have been unplugged and come back.
type File struct {
	path string
	f    *os.File
	buf  [256]byte
}

// NewFile returns the file at path, which need not be there yet.
func NewFile(path string) *File { return &File{path: path} }

// Read returns the file's text, up to 256 bytes. It is valid until the next
// call.
func (f *File) Read() ([]byte, error) {
	if f.f == nil {
		var err error
		if f.f, err = os.Open(f.path); err != nil {
			return nil, err
		}
	}
	n, err := f.f.ReadAt(f.buf[:], 0)
	if err != nil && err != io.EOF {
		f.Close()
		return nil, err
	}
	return f.buf[:n], nil
}

// Close closes the file. The next Read opens it again.
func (f *File) Close() error {
	if f.f == nil {
		return nil
	}
	err := f.f.Close()
	f.f = nil
	return err
}

// Gone reports whether an error says that a device is not there: its file is
// missing, or it was removed while the file was open.
func Gone(err error) bool { return errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ENODEV) }
