/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_CONF_FILE_H
#define AMBO_STATION_CONF_FILE_H

#include <stdbool.h>
#include <stddef.h>

#include "drivers/scale.h"

/* One configuration file read against a table of what it may hold: sets type,
 * checks range, rejects unknown keys, and says every mistake of meaning at once as
 * "file:line: key: what is wrong; expected ...". Syntax: the first one, since
 * nothing after it can be trusted. The only file that knows libconfig. */

#define CONF_FILE_MAX     262144u /* bytes: no honest configuration is larger */
#define CONF_SENTENCE_MAX 1024u

/* Where the sentences go, and how many there were. */
struct conf_report {
	void (*say)(void *context, const char *sentence);
	void *context;
	int found;
};

/* Says "file:line: key: ..." (line 0: "file: key: ...", key "": without one). */
void conf_wrong(struct conf_report *report, const char *file, int line, const char *key,
                const char *format, ...) __attribute__((format(printf, 5, 6)));

enum conf_type {
	CONF_BOOL,    /* bool */
	CONF_INT,     /* int, low..high */
	CONF_DOUBLE,  /* double, low..high; a whole number will do */
	CONF_TEXT,    /* char[size] */
	CONF_CHOICE,  /* int: the index of the text in choices */
	CONF_GROUP,   /* a group, read against `group` */
	CONF_PASSED,  /* struct conf_passed: a group handed on as text, unread */
	CONF_LIST,    /* a list of groups, each read against `group` into an element of its own */
	CONF_NUMBERS, /* a list of numbers, low..high each, into double[] */
};

/* A group whose keys are someone else's: a driver's. The texts live as long as the
 * file is open. */
#define CONF_PASSED_MAX 32u
struct conf_passed {
	struct scale_option option[CONF_PASSED_MAX];
	size_t n;
};

/* A row a key; the table ends with a NULL key. Absent keys leave their value as it
 * was: the caller sets the defaults first. */
struct conf_spec {
	const char *key;
	enum conf_type type;
	bool required;
	size_t offset;                 /* into the caller's struct; unused for CONF_GROUP */
	double low, high;              /* CONF_INT, CONF_DOUBLE: both ends are allowed */
	size_t size;                   /* CONF_TEXT: bytes with the NUL; CONF_LIST: of an element */
	const char *const *choices;    /* CONF_CHOICE: ended by NULL */
	const struct conf_spec *group; /* CONF_GROUP: same base as its parent */
	const char *expected;          /* completes "expected ..."; NULL: made from the range */
	/* CONF_LIST and CONF_NUMBERS: how many fit (the caller sets up each element's
	 * defaults), and where the number of those read goes, a size_t. */
	size_t most, count;
};

struct conf_file;

/* Parses path. On 0 the caller owns *ret. -ENOENT, -EACCES, -EFBIG, -EBADMSG
 * (syntax) ...: said in report, *ret untouched. */
int conf_open(const char *path, struct conf_report *report, struct conf_file **ret);
/* The same for a text at hand, called path in sentences. -EBADMSG, -ENOMEM. */
int conf_open_text(const char *path, const char *text, struct conf_report *report,
                   struct conf_file **ret);
void conf_close(struct conf_file *file); /* NULL does nothing */

/* Returns how many mistakes this file had. */
int conf_read(struct conf_file *file, const struct conf_spec *specs, void *ret,
              struct conf_report *report);

const char *conf_path(const struct conf_file *file);
/* The line of a key ("a.label"); of the nearest group around it when it is absent. */
int conf_line(const struct conf_file *file, const char *key);
/* Whether the key is written in the file, and whether it was complained about. */
bool conf_has(const struct conf_file *file, const char *key);
bool conf_complained(const struct conf_file *file, const char *key);

#endif
