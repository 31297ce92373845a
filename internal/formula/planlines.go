package formula

import (
	"strconv"
	"strings"
)

// lineIndex tells on which line of a plan file each key stands. The TOML decoder
// reports a position for syntax errors only, and a plan is full of values that
// are fine TOML and still wrong. Paths look like batter[0].portion[1].colorants[2].
type lineIndex map[string]int

// at gives the line of the path, or of its nearest parent that was seen.
func (x lineIndex) at(path string) int {
	for path != "" {
		if n, ok := x[path]; ok {
			return n
		}
		if i := strings.LastIndexAny(path, ".["); i >= 0 {
			path = path[:i]
		} else {
			path = ""
		}
	}
	return 0
}

// indexLines scans TOML that has already decoded without error. It follows
// headers, keys, strings and brackets, and nothing else.
func indexLines(text string) lineIndex {
	idx := lineIndex{}
	counts := map[string]int{} // how many [[name]] were seen, by indexed path
	prefix := ""
	line := 1
	s := text
	for len(s) > 0 {
		switch s[0] {
		case '\n':
			line++
			s = s[1:]
		case ' ', '\t', '\r':
			s = s[1:]
		case '#':
			s = skipToNewline(s)
		case '[':
			double := strings.HasPrefix(s, "[[")
			end := strings.IndexByte(s, '\n')
			if end < 0 {
				end = len(s)
			}
			head := s[:end]
			prefix = headerPath(head, double, counts)
			if _, seen := idx[prefix]; !seen {
				idx[prefix] = line
			}
			s = s[end:]
		default:
			key, rest := readKey(s)
			path := join(prefix, key)
			idx[path] = line
			s = scanValue(rest, path, &line, idx)
		}
	}
	return idx
}

func join(prefix, key string) string {
	if prefix == "" {
		return key
	}
	return prefix + "." + key
}

func skipToNewline(s string) string {
	if i := strings.IndexByte(s, '\n'); i >= 0 {
		return s[i:]
	}
	return ""
}

// headerPath turns [a.b] or [[a.b]] into the indexed path of the table it opens.
func headerPath(head string, double bool, counts map[string]int) string {
	head = strings.TrimLeft(head, "[ \t")
	path := ""
	for {
		key, rest := readPart(head)
		path = join(path, key)
		head = strings.TrimLeft(rest, " \t")
		last := !strings.HasPrefix(head, ".")
		if last && double {
			counts[path]++
		}
		if n := counts[path]; n > 0 {
			path += "[" + strconv.Itoa(n-1) + "]"
		}
		if last {
			return path
		}
		head = strings.TrimLeft(head[1:], " \t")
	}
}

// readKey reads a (dotted) key and the equals sign behind it.
func readKey(s string) (key, rest string) {
	part, rest := readPart(s)
	key = part
	for {
		rest = strings.TrimLeft(rest, " \t")
		if !strings.HasPrefix(rest, ".") {
			break
		}
		part, rest = readPart(strings.TrimLeft(rest[1:], " \t"))
		key += "." + part
	}
	return key, strings.TrimPrefix(rest, "=")
}

// readPart reads one bare or quoted key. It always takes at least one byte, so
// that a scan over anything ends.
func readPart(s string) (part, rest string) {
	if s == "" {
		return "", ""
	}
	if s[0] == '"' || s[0] == '\'' {
		body := skipString(s)
		return strings.Trim(s[:len(s)-len(body)], `"'`), body
	}
	i := strings.IndexAny(s, " \t\r\n.=]#,{}[\"'")
	switch {
	case i < 0:
		return s, ""
	case i == 0:
		return "", s[1:]
	}
	return s[:i], s[i:]
}

// skipString returns what follows the string that s begins with.
func skipString(s string) string {
	q := s[:1]
	if triple := strings.Repeat(q, 3); strings.HasPrefix(s, triple) {
		if i := strings.Index(s[3:], triple); i >= 0 {
			return s[3+i+3:]
		}
		return ""
	}
	for i := 1; i < len(s); i++ {
		switch {
		case s[i] == '\\' && q == `"`:
			i++
		case s[i] == q[0]:
			return s[i+1:]
		case s[i] == '\n':
			return s[i:]
		}
	}
	return ""
}

// scanValue walks a value to its end, noting elements of arrays and keys of
// inline tables on the way.
func scanValue(s, path string, line *int, idx lineIndex) string {
	type level struct {
		path  string
		array bool
		n     int
	}
	var stack []level
	wantKey := false
	enter := func() string {
		if len(stack) == 0 {
			return path
		}
		top := &stack[len(stack)-1]
		if top.array {
			p := top.path + "[" + strconv.Itoa(top.n) + "]"
			if _, seen := idx[p]; !seen {
				idx[p] = *line
			}
			return p
		}
		return top.path
	}
	current := path // path of the value that comes next
	for len(s) > 0 {
		c := s[0]
		switch {
		case c == '\n':
			if len(stack) == 0 {
				return s
			}
			*line++
			s = s[1:]
		case c == ' ' || c == '\t' || c == '\r':
			s = s[1:]
		case c == '#':
			s = skipToNewline(s)
		case c == '[' || c == '{':
			if len(stack) > 0 && stack[len(stack)-1].array {
				current = enter()
			}
			stack = append(stack, level{path: current, array: c == '['})
			wantKey = c == '{'
			s = s[1:]
		case c == ']' || c == '}':
			if len(stack) > 0 {
				stack = stack[:len(stack)-1]
			}
			wantKey = false
			s = s[1:]
		case c == ',':
			if len(stack) > 0 {
				top := &stack[len(stack)-1]
				top.n++
				wantKey = !top.array
			}
			s = s[1:]
		case wantKey:
			var key string
			key, s = readKey(s)
			current = join(stack[len(stack)-1].path, key)
			idx[current] = *line
			wantKey = false
		case c == '"' || c == '\'':
			enter()
			rest := skipString(s)
			*line += strings.Count(s[:len(s)-len(rest)], "\n")
			s = rest
		default:
			enter()
			s = s[1:]
		}
	}
	return s
}
