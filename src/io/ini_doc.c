#include "io/ini_doc.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mainstair/base/text.h"

/* Where the scan stands.  `section` is that of the next keys: -1 before the first header, -2
 * behind a header that was refused (its keys cannot be judged, and one complaint is enough). */
enum { SECTION_NONE = -1, SECTION_REFUSED = -2 };

struct scan {
	struct ini_doc *doc;
	struct complaints *c;
	int line;
	int section;
	bool full_told;
	char *nothing; /* the empty text behind the last byte: the value of what was refused */
};

static bool is_blank(char ch)
{
	return ch == ' ' || ch == '\t';
}

static bool is_name(const char *s, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		bool letter = (s[i] >= 'a' && s[i] <= 'z') || (s[i] >= 'A' && s[i] <= 'Z');
		bool digit = s[i] >= '0' && s[i] <= '9';

		if (!letter && !digit && !memchr("._+-", s[i], 4))
			return false;
	}
	return n > 0;
}

static void refuse(struct scan *scan, const char *what)
{
	const char *title = scan->section >= 0 ? scan->doc->sections[scan->section].title : NULL;

	complaints_add(scan->c, scan->line, title, NULL, "%s", what);
	scan->doc->whole = false;
}

/* The word that starts at *s, copied to dst; *s moves behind it.  False if it is no name or too
 * long. */
static bool take_word(char **s, char dst[INI_NAME_MAX])
{
	size_t n = 0;

	while ((*s)[n] && !is_blank((*s)[n]))
		n++;
	if (!is_name(*s, n) || n >= INI_NAME_MAX)
		return false;
	memcpy(dst, *s, n);
	dst[n] = '\0';
	*s += n;
	while (is_blank(**s))
		(*s)++;
	return true;
}

/* "[rail main] ; comment" */
static void scan_header(struct scan *scan, char *s)
{
	char *close = strchr(s, ']'), *inside = s + 1, *behind;
	struct ini_doc *doc = scan->doc;
	const bool lost_before = doc->section_lost;
	struct ini_section section = {.line = scan->line};
	int before;

	scan->section = SECTION_REFUSED;
	doc->section_lost = true; /* until it is found good */
	if (!close) {
		refuse(scan, "a section is written [name], and its ] is missing");
		return;
	}
	for (behind = close + 1; is_blank(*behind); behind++)
		continue;
	if (*behind && *behind != ';') {
		refuse(scan, "text behind a section's ]: only a comment (`;`) may stand there");
		return;
	}
	*close = '\0';
	while (is_blank(*inside))
		inside++;
	if (!take_word(&inside, section.kind) || (*inside && !take_word(&inside, section.name)) ||
	    *inside) {
		refuse(scan, "a section is written [kind] or [kind name], each a word of up to 31 "
		             "letters, digits and . _ + -");
		return;
	}
	(void)snprintf(section.title, sizeof section.title, "%s%s%s", section.kind,
	               section.name[0] ? " " : "", section.name);
	doc->section_lost = lost_before;
	before = ini_find_section(doc, section.kind, section.name);
	if (before >= 0) {
		complaints_add(scan->c, scan->line, section.title, NULL,
		               "this section is there already, on line %d: put its keys together",
		               doc->sections[before].line);
		doc->whole = false;
		scan->section = before;
		return;
	}
	if (doc->n_sections == INI_SECTIONS_MAX) {
		if (!scan->full_told)
			refuse(scan, "more than 64 sections");
		scan->full_told = true;
		doc->whole = false;
		doc->section_lost = true;
		return;
	}
	doc->sections[doc->n_sections] = section;
	scan->section = doc->n_sections++;
}

/* Cut the comment and the quotes off a value in place.  Returns it, or NULL after refusing. */
static char *clean_value(struct scan *scan, const char *key, char *s, bool *quoted)
{
	const char *title = scan->doc->sections[scan->section].title;
	char *end;

	*quoted = *s == '"';
	if (*quoted) {
		s++;
		end = strchr(s, '"');
		if (!end) {
			complaints_add(scan->c, scan->line, title, key,
			               "the closing \" is missing");
			return NULL;
		}
		*end = '\0';
		for (end++; is_blank(*end); end++)
			continue;
		if (*end && *end != ';') {
			complaints_add(scan->c, scan->line, title, key,
			               "text behind the closing \": only a comment (`;`) may stand "
			               "there");
			return NULL;
		}
	} else if (*s == '\'') {
		complaints_add(scan->c, scan->line, title, key,
		               "a value begins with ': use \" if it needs quotes");
		return NULL;
	} else {
		/* a lamp's number as it stands on the box */
		if (*s == '#' && s[1] >= '0' && s[1] <= '9' && text_same(title, "lamps"))
			s++;
		end = s + strcspn(s, ";#");
		if (*end == '#') {
			complaints_add(scan->c, scan->line, title, key,
			               "# is only written ahead of a lamp's number, and a "
			               "comment begins with `;`");
			return NULL;
		}
		if (*end == ';' && end > s && !is_blank(end[-1])) {
			complaints_add(scan->c, scan->line, title, key,
			               "a comment needs a blank before its `;`; a `;` that belongs "
			               "to the value needs quotes: \"a;b\"");
			return NULL;
		}
		while (end > s && is_blank(end[-1]))
			end--;
		*end = '\0';
	}
	if (s[strspn(s, " \t")] == '\0') {
		complaints_add(scan->c, scan->line, title, key,
		               "no value: leave the line out if it is not known");
		return NULL;
	}
	return s;
}

static void add_entry(struct scan *scan, const struct ini_entry *entry)
{
	struct ini_doc *doc = scan->doc;

	if (doc->n_entries < INI_ENTRIES_MAX) {
		doc->entries[doc->n_entries++] = *entry;
		return;
	}
	if (!scan->full_told)
		refuse(scan, "more than 1024 keys in one file");
	scan->full_told = true;
	doc->whole = false;
}

/* Of a line that was refused as a whole: remember its key, so that it is not said to be missing. */
static void keep_key(struct scan *scan, const char *s)
{
	struct ini_entry entry = {.section = scan->section, .line = scan->line,
	                          .value = scan->nothing, .refused = true};
	size_t n;

	s += strspn(s, " \t");
	for (n = 0; n < INI_NAME_MAX && s[n] && s[n] != '=' && !is_blank(s[n]); n++)
		continue;
	if (scan->section < 0 || n == INI_NAME_MAX || !is_name(s, n) ||
	    s[n + strspn(s + n, " \t")] != '=')
		return;
	memcpy(entry.key, s, n);
	if (!ini_find(scan->doc, scan->section, entry.key))
		add_entry(scan, &entry);
}

/* "key = value ; comment" */
static void scan_entry(struct scan *scan, char *s)
{
	struct ini_doc *doc = scan->doc;
	struct ini_entry entry = {.section = scan->section, .line = scan->line};
	const struct ini_entry *before;
	char *equals = strchr(s, '='), *end = equals;

	if (!equals || equals > s + strcspn(s, ";\"")) {
		refuse(scan, "not understood: expected `key = value`, `[section]` or `; comment`");
		return;
	}
	while (end > s && is_blank(end[-1]))
		end--;
	if (!is_name(s, (size_t)(end - s)) || end - s >= INI_NAME_MAX) {
		refuse(scan,
		       "before the = stands one word of up to 31 letters, digits and . _ + -");
		return;
	}
	if (scan->section == SECTION_NONE) {
		refuse(scan, "a key before any [section]");
		return;
	}
	if (scan->section == SECTION_REFUSED)
		return;
	memcpy(entry.key, s, (size_t)(end - s));
	for (s = equals + 1; is_blank(*s); s++)
		continue;
	entry.value = clean_value(scan, entry.key, s, &entry.quoted);
	before = ini_find(doc, scan->section, entry.key);
	if (before)
		complaints_add(scan->c, scan->line, doc->sections[scan->section].title, entry.key,
		               "is there already, on line %d", before->line);
	if (!entry.value || before)
		doc->whole = false;
	if (!entry.value) {
		entry.value = scan->nothing;
		entry.refused = true;
	}
	if (!before)
		add_entry(scan, &entry);
}

/* One line of n bytes at s; s[n] may be overwritten. */
static void scan_line(struct scan *scan, char *s, size_t n)
{
	static const char bom[] = "\xef\xbb\xbf";

	if (n > 0 && s[n - 1] == '\r')
		n--;
	s[n] = '\0';
	if (scan->line == 1 && n >= 3 && memcmp(s, bom, 3) == 0) {
		refuse(scan, "the file begins with a byte order mark: save it as plain UTF-8 "
		             "without one");
		s += 3;
		n -= 3;
	}
	if (n > INI_LINE_MAX) {
		refuse(scan, "longer than 1000 bytes");
		keep_key(scan, s);
		return;
	}
	for (size_t i = 0, len; i < n; i += len) {
		len = s[i] == '\t' ? 1 : text_printable(s + i, n - i);
		if (len == 0) {
			refuse(scan, s[i] == '\0'
			                     ? "a NUL byte: this is not a text file"
			                     : "a control character, or a byte that is not UTF-8");
			keep_key(scan, s);
			return;
		}
	}
	while (n > 0 && is_blank(s[n - 1]))
		s[--n] = '\0';
	if (n > 0 && s[n - 1] == '\\') {
		refuse(scan, "ends in a backslash, which would join it with the next line");
		keep_key(scan, s);
		return;
	}
	while (is_blank(*s))
		s++;
	if (*s == '\0' || *s == ';')
		return;
	if (*s == '#')
		refuse(scan, "a comment begins with `;`, not with #");
	else if (*s == '[')
		scan_header(scan, s);
	else
		scan_entry(scan, s);
}

int ini_scan(const char *text, size_t n, struct ini_doc *ret, struct complaints *c)
{
	struct scan scan = {.doc = ret, .c = c, .section = SECTION_NONE};

	*ret = (struct ini_doc){.whole = true};
	if (n > INI_TEXT_MAX) {
		complaints_add(c, COMPLAINT_WHOLE_FILE, NULL, NULL, "larger than 256 KiB");
		ret->whole = false;
		ret->section_lost = true;
		return -1;
	}
	ret->sections = calloc(INI_SECTIONS_MAX, sizeof ret->sections[0]);
	ret->entries = calloc(INI_ENTRIES_MAX, sizeof ret->entries[0]);
	ret->text = malloc(n + 1);
	if (!ret->sections || !ret->entries || !ret->text) {
		complaints_add(c, COMPLAINT_WHOLE_FILE, NULL, NULL, "out of memory");
		ret->whole = false;
		ret->section_lost = true;
		return -1;
	}
	memcpy(ret->text, text, n);
	ret->text[n] = '\0';
	scan.nothing = ret->text + n;
	for (size_t at = 0; at < n;) {
		char *end = memchr(ret->text + at, '\n', n - at);
		size_t len = end ? (size_t)(end - (ret->text + at)) : n - at;

		scan.line++;
		scan_line(&scan, ret->text + at, len);
		at += len + 1;
	}
	return ret->whole ? 0 : -1;
}

void ini_release(struct ini_doc *doc)
{
	free(doc->sections);
	free(doc->entries);
	free(doc->text);
	*doc = (struct ini_doc){0};
}

int ini_find_section(const struct ini_doc *doc, const char *kind, const char *name)
{
	for (int i = 0; i < doc->n_sections; i++)
		if (text_same(doc->sections[i].kind, kind) &&
		    text_same(doc->sections[i].name, name))
			return i;
	return -1;
}

const struct ini_entry *ini_find(const struct ini_doc *doc, int section, const char *key)
{
	for (int i = 0; i < doc->n_entries; i++)
		if (doc->entries[i].section == section && text_same(doc->entries[i].key, key))
			return &doc->entries[i];
	return NULL;
}
