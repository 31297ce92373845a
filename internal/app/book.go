package app

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// BookPlace says where the book is.
type BookPlace struct {
	Path   string `json:"path"`
	Exists bool   `json:"exists"`
	Bytes  int64  `json:"bytes"`
}

// BookWhere says where the book is or would be made, without opening it.
func (a *App) BookWhere() (BookPlace, error) {
	path, err := filepath.Abs(a.path)
	if err != nil {
		return BookPlace{}, err
	}
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return BookPlace{Path: path}, nil
	}
	if err != nil {
		return BookPlace{}, err
	}
	return BookPlace{Path: path, Exists: true, Bytes: info.Size()}, nil
}
