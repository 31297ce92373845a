package exchange

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"lyefast/internal/pattern"
)

// File is a file to be written, or one that was read.
type File struct {
	Name string
	Data []byte
}

// PackageInfo describes a Data Package as a whole.
type PackageInfo struct {
	// Name: small letters, digits, "-", "_", ".".
	Name               string
	Title, Description string
	// Created is written if it is not zero.
	Created time.Time
}

// packageFile is the descriptor's fixed name (Data Package standard, version 2).
const packageFile = "datapackage.json"

// descriptor is the part of the standard that is used, and two properties more,
// as it allows: "unit" of a field and "textGuard".
type descriptor struct {
	Schema      string     `json:"$schema,omitempty"`
	Name        string     `json:"name"`
	Title       string     `json:"title,omitempty"`
	Description string     `json:"description,omitempty"`
	Created     string     `json:"created,omitempty"`
	TextGuard   string     `json:"textGuard,omitempty"`
	Resources   []resource `json:"resources"`
}

type resource struct {
	Name        string      `json:"name"`
	Type        string      `json:"type,omitempty"`
	Path        string      `json:"path"`
	Description string      `json:"description,omitempty"`
	Format      string      `json:"format,omitempty"`
	Mediatype   string      `json:"mediatype,omitempty"`
	Encoding    string      `json:"encoding,omitempty"`
	Bytes       int         `json:"bytes"`
	Hash        string      `json:"hash"`
	Schema      tableSchema `json:"schema"`
}

type tableSchema struct {
	Fields        []field  `json:"fields"`
	MissingValues []string `json:"missingValues"`
}

type field struct {
	Name        string `json:"name"`
	Type        Type   `json:"type"`
	Unit        string `json:"unit,omitempty"`
	Description string `json:"description,omitempty"`
}

var resourceName = pattern.New(`^[a-z0-9][a-z0-9._-]{0,99}$`)

// guardNote tells other programs of the apostrophes.
const guardNote = "In the CSV files a text that begins with =, +, -, @ or a tab has an apostrophe in front, so that no spreadsheet runs it as a formula."

// Package writes tables as a Data Package (version 2): datapackage.json first,
// then a CSV file for each table, with types, units, sizes and SHA-256 hashes.
func Package(info PackageInfo, tables []Table) ([]File, error) {
	d := descriptor{
		Schema: "https://datapackage.org/profiles/2.0/datapackage.json",
		Name:   info.Name, Title: info.Title, Description: info.Description, TextGuard: guardNote,
	}
	if !resourceName.MatchString(info.Name) {
		return nil, fmt.Errorf("%q is no name for a data package: small letters, digits, - and _ only", info.Name)
	}
	if !info.Created.IsZero() {
		d.Created = instant(info.Created)
	}
	if len(tables) == 0 {
		return nil, fmt.Errorf("data package %q has no tables", info.Name)
	}
	files := make([]File, 1, len(tables)+1)
	seen := map[string]bool{}
	for _, t := range tables {
		if !resourceName.MatchString(t.Name) || seen[t.Name] {
			return nil, fmt.Errorf("%q is no name for a table of its own: small letters, digits, - and _ only", t.Name)
		}
		seen[t.Name] = true
		data, err := t.CSV(false)
		if err != nil {
			return nil, err
		}
		r := resource{
			Name: t.Name, Type: "table", Path: t.Name + ".csv", Description: t.Description,
			Format: "csv", Mediatype: "text/csv", Encoding: "utf-8", Bytes: len(data), Hash: hashOf(data),
			Schema: tableSchema{MissingValues: []string{""}},
		}
		for _, c := range t.Columns {
			r.Schema.Fields = append(r.Schema.Fields, field(c))
		}
		d.Resources = append(d.Resources, r)
		files = append(files, File{r.Path, data})
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(d); err != nil {
		return nil, fmt.Errorf("describe data package %q: %w", info.Name, err)
	}
	files[0] = File{packageFile, b.Bytes()}
	return files, nil
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return "sha256:" + hex.EncodeToString(sum[:])
}

// ReadPackage reads what [Package] wrote, in any order of the files, and checks
// sizes and hashes. The error is a *[Declined].
func ReadPackage(files []File) (PackageInfo, []Table, error) {
	byName := map[string][]byte{}
	for _, f := range files {
		byName[f.Name] = f.Data
	}
	fail := func(name, hint, format string, args ...any) (PackageInfo, []Table, error) {
		d := decline(0, hint, format, args...)
		d.Name = name
		return PackageInfo{}, nil, d
	}
	raw, ok := byName[packageFile]
	if !ok {
		return fail(packageFile, "give the whole folder", "it is not among the files")
	}
	if len(raw) > 1<<20 {
		return fail(packageFile, "", "it is larger than a mebibyte")
	}
	var d descriptor
	dec := json.NewDecoder(bytes.NewReader(raw))
	if err := dec.Decode(&d); err != nil {
		return fail(packageFile, "export it again", "it is not a description of a data package: %s", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return fail(packageFile, "export it again", "something follows the description")
	}
	info := PackageInfo{Name: d.Name, Title: d.Title, Description: d.Description}
	if d.Created != "" {
		at, err := time.Parse(time.RFC3339Nano, d.Created)
		if err != nil {
			return fail(packageFile, "", "created is %q, not a time", d.Created)
		}
		info.Created = at
	}
	if len(d.Resources) == 0 || len(d.Resources) > 1000 {
		return fail(packageFile, "", "it names %d tables", len(d.Resources))
	}
	var tables []Table
	for _, r := range d.Resources {
		if !resourceName.MatchString(r.Name) || r.Path != r.Name+".csv" {
			return fail(packageFile, "", "the table %q has the path %q, and %q was expected", r.Name, r.Path, r.Name+".csv")
		}
		data, ok := byName[r.Path]
		switch {
		case !ok:
			return fail(r.Path, "give the whole folder", "it is not among the files")
		case len(data) != r.Bytes || hashOf(data) != r.Hash:
			return fail(r.Path, "export it again, or take the readings from the CSV alone", "it was changed after it was written: its hash is not the one in %s", packageFile)
		}
		columns := make([]Column, len(r.Schema.Fields))
		for i, f := range r.Schema.Fields {
			columns[i] = Column(f)
		}
		t, err := ReadTable(data, r.Name, columns)
		if err != nil {
			return fail(r.Path, "", "%s", err)
		}
		t.Description = r.Description
		tables = append(tables, t)
	}
	return info, tables, nil
}
