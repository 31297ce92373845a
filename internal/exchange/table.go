package exchange

import "strings"

// guardNeeded are the first characters that make a spreadsheet run a cell as a
// formula.
const guardNeeded = "=+-@\t\r"

// guard puts an apostrophe before a text that a spreadsheet would run as a
// formula, and before one that only a guard would explain, so that [unguard]
// gives the text back.
func guard(s string) string {
	if t := strings.TrimLeft(s, "'"); t != "" && strings.IndexByte(guardNeeded, t[0]) >= 0 {
		return "'" + s
	}
	return s
}

// unguard takes the apostrophe of guard away.
func unguard(s string) string {
	if s == "" || s[0] != '\'' {
		return s
	}
	if t := strings.TrimLeft(s, "'"); t != "" && strings.IndexByte(guardNeeded, t[0]) >= 0 {
		return s[1:]
	}
	return s
}
