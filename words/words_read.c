/* SPDX-License-Identifier: MIT */
#include "words_read.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "words_inside.h"
#include "words_told.h"

#define GAPS_MAX    12u
#define CHOICES_MAX 4u     /* brackets in a template */
#define STEPS_MAX   20000u /* no sentence of ours takes a hundredth */
#define DEPTH_MAX   3      /* a value within a value */

/* What stood in one gap. Both point into the texts that were read. */
struct gap {
	const char *name, *value;
	size_t name_n, value_n;
};

struct reading {
	const char *template; /* NULL: none fits */
	struct gap gap[GAPS_MAX];
	size_t n, literal; /* characters that are the template's own... */
	size_t opening;    /* ...and of them those before the first gap */
	unsigned steps;
};

const char *words_told_template(unsigned i)
{
	return i < sizeof words_told / sizeof *words_told ? words_told[i] : NULL;
}

/* The end of what stands at from: '|' or ']', or of the text. */
static const char *phrase_end(const char *from)
{
	return from + strcspn(from, "|]");
}

/* Each bracket's first phrase or, where its bit is set, what stands instead. Returns how
 * many brackets there are. */
static unsigned choose(const char *template, unsigned instead, char *ret, size_t size)
{
	unsigned brackets = 0;
	size_t n = 0;

	for (const char *c = template; *c != '\0' && n + 1 < size; c++) {
		const char *end = phrase_end(c + 1);
		const char *first = c + 1, *stop = end;

		if (*c != '[') {
			ret[n++] = *c;
			continue;
		}
		if (instead >> brackets & 1u) {
			first = *end == '|' ? end + 1 : end;
			stop = phrase_end(first);
		}
		for (; first < stop && n + 1 < size; first++)
			ret[n++] = *first;
		c += strcspn(c, "]");
		brackets++;
		if (*c == '\0')
			break;
	}
	ret[n] = '\0';
	return brackets;
}

/* template without brackets against the whole of text. */
static bool fits(const char *template, const char *text, struct reading *reading)
{
	const char *close;
	struct gap *gap;
	size_t n, literal;

	for (; *template != '\0' && *template != '{'; template ++, text++) {
		if (*template != *text)
			return false;
		reading->literal++;
	}
	if (*template == '\0')
		return *text == '\0';
	close = strchr(template, '}');
	if (close == NULL || reading->n == GAPS_MAX)
		return false;
	gap = &reading->gap[reading->n++];
	gap->name = template + 1;
	gap->name_n = (size_t)(close - gap->name);
	gap->value = text;
	n = reading->n;
	literal = reading->literal;
	for (gap->value_n = 1; text[gap->value_n - 1] != '\0'; gap->value_n++) {
		if (++reading->steps > STEPS_MAX)
			return false;
		reading->n = n;
		reading->literal = literal;
		if (fits(close + 1, text + gap->value_n, reading))
			return true;
	}
	return false;
}

/* A sentence may open with a phrase that was left out: then its first letter is raised. */
static void first_as(const char *text, char *template)
{
	if (isupper((unsigned char)text[0]) && islower((unsigned char)template[0]))
		template[0] = (char)toupper((unsigned char)template[0]);
}

/* The gaps' names are to outlive the chosen phrases: they are looked up in the template. */
static void keep_names(struct reading *reading, const char *template)
{
	for (size_t i = 0; i < reading->n; i++) {
		const struct gap *gap = &reading->gap[i];
		const char *c = template;

		while ((c = strchr(c, '{')) != NULL &&
		       (strncmp(c + 1, gap->name, gap->name_n) != 0 || c[1 + gap->name_n] != '}'))
			c++;
		reading->gap[i].name = c != NULL ? c + 1 : "";
	}
	reading->template = template;
}

/* A sentence is known by how it opens: what follows may be a value that is one too. */
static bool closer(const struct reading *a, const struct reading *b)
{
	return a->opening != b->opening ? a->opening > b->opening : a->literal > b->literal;
}

static void try_template(const char *template, const char *text, struct reading *best)
{
	char chosen[WORDS_SENTENCE_MAX];
	unsigned n = choose(template, 0, chosen, sizeof chosen);

	if (*template == '\0' || n > CHOICES_MAX)
		return;
	for (unsigned instead = 0; instead < 1u << n; instead++) {
		struct reading reading = {.template = NULL};

		choose(template, instead, chosen, sizeof chosen);
		first_as(text, chosen);
		if (!fits(chosen, text, &reading) || reading.literal == 0)
			continue;
		reading.opening = strcspn(chosen, "{");
		if (best->template != NULL && !closer(&reading, best))
			continue;
		keep_names(&reading, template);
		*best = reading;
	}
}

static bool read_back(const char *text, struct reading *ret)
{
	static const char *(*const tables[])(unsigned) = {words_told_template, words_row_template,
	                                                  words_advice_template};
	const char *template;

	ret->template = NULL;
	for (size_t t = 0; t < sizeof tables / sizeof *tables; t++)
		for (unsigned i = 0; (template = tables[t](i)) != NULL; i++)
			try_template(template, text, ret);
	return ret->template != NULL;
}

/* "3.40", "12.3 g": the mark of the fraction is the language's. */
static void localise(const struct words_language *language, char *value)
{
	const char *digits = value + (*value == '-');
	const char *point = digits + strspn(digits, "0123456789");

	if (point > digits && *point == '.' && isdigit((unsigned char)point[1]))
		words_localise(language, value);
}

static bool readable(const char *text);
static void say_text(const struct words_language *language, const char *text, int depth,
                     struct words_out *out);

/* The person's own word, a lot or a name, which is no text of ours whatever it looks like. */
static bool is_name(const struct gap *gap)
{
	static const char *const names[] = {"piece", "coat", "name",   "system",
	                                    "group", "file", "driver", "class"};

	for (size_t i = 0; i < sizeof names / sizeof *names; i++)
		if (strlen(names[i]) == gap->name_n &&
		    strncmp(names[i], gap->name, gap->name_n) == 0)
			return true;
	return false;
}

static void say_gap(const struct words_language *language, const struct gap *gap, int depth,
                    struct words_out *out)
{
	char value[WORDS_SENTENCE_MAX];

	snprintf(value, sizeof value, "%.*s", (int)gap->value_n, gap->value);
	/* A message's text may be a reason of the store's, or a lot. */
	if (is_name(gap) || (gap->name_n == 1 && *gap->name == 't' && !readable(value)))
		words_put(out, value, gap->value_n);
	else
		say_text(language, value, depth + 1, out);
}

static const struct gap *gap_of(const struct reading *reading, const char *name, size_t n)
{
	for (size_t i = 0; i < reading->n; i++)
		if (reading->gap[i].name_n == n && strncmp(reading->gap[i].name, name, n) == 0)
			return &reading->gap[i];
	return NULL;
}

/* Whether all that the phrase names is known. */
static bool whole(const struct reading *reading, const char *from, const char *end)
{
	for (; from < end; from++)
		if (*from == '{' && gap_of(reading, from + 1, strcspn(from + 1, "}")) == NULL)
			return false;
	return true;
}

/* template up to end, with what was read. */
static void say_phrase(const struct words_language *language, const struct reading *reading,
                       const char *from, const char *end, int depth, struct words_out *out)
{
	while (from < end) {
		const char *first = from + 1, *stop = phrase_end(first);
		size_t name_n = strcspn(first, "}");
		const struct gap *gap = *from == '{' ? gap_of(reading, first, name_n) : NULL;

		if (gap != NULL) {
			say_gap(language, gap, depth, out);
			from = first + name_n + 1;
		} else if (*from == '[') {
			from += strcspn(from, "]") + 1;
			if (!whole(reading, first, stop)) {
				first = *stop == '|' ? stop + 1 : stop;
				stop = phrase_end(first);
			}
			say_phrase(language, reading, first, stop, depth, out);
		} else {
			words_put(out, from++, 1);
		}
	}
}

static void say_reading(const struct words_language *language, const struct reading *reading,
                        const char *text, int depth, struct words_out *out)
{
	const char *translated = words_tr(language, reading->template);
	size_t start = out->length;

	say_phrase(language, reading, translated, translated + strlen(translated), depth, out);
	if (out->length > start)
		first_as(text, out->buffer + start);
}

/* The first full stop up to which text can be read, and, where whole, behind it too; NULL:
 * there is none. head: WORDS_SENTENCE_MAX. */
static const char *first_stop(const char *text, bool whole, char *head, struct reading *ret)
{
	for (const char *stop = strstr(text, ". "); stop != NULL; stop = strstr(stop + 1, ". ")) {
		snprintf(head, WORDS_SENTENCE_MAX, "%.*s", (int)(stop + 1 - text), text);
		if (read_back(head, ret) && (!whole || readable(stop + 2)))
			return stop;
	}
	return NULL;
}

static bool readable(const char *text)
{
	char head[WORDS_SENTENCE_MAX];
	struct reading reading;

	return read_back(text, &reading) || first_stop(text, true, head, &reading) != NULL;
}

/* One sentence after the other. */
static bool say_in_turn(const struct words_language *language, const char *text, bool all,
                        int depth, struct words_out *out)
{
	char head[WORDS_SENTENCE_MAX];
	struct reading reading;
	const char *stop = first_stop(text, all, head, &reading);

	if (stop == NULL)
		return false;
	say_reading(language, &reading, head, depth, out);
	words_put(out, " ", 1);
	say_text(language, stop + 2, depth, out);
	return true;
}

/* "..." within a full stop that is not the template's. */
static bool say_but_for_the_stop(const struct words_language *language, const char *text, int depth,
                                 struct words_out *out)
{
	char head[WORDS_SENTENCE_MAX];
	struct reading reading;
	size_t n = strlen(text);

	if (n == 0 || n >= sizeof head || text[n - 1] != '.')
		return false;
	snprintf(head, sizeof head, "%.*s", (int)(n - 1), text);
	if (!read_back(head, &reading))
		return false;
	say_reading(language, &reading, head, depth, out);
	words_put(out, ".", 1);
	return true;
}

static void say_text(const struct words_language *language, const char *text, int depth,
                     struct words_out *out)
{
	char value[WORDS_SENTENCE_MAX];
	struct reading reading;

	if (depth < DEPTH_MAX) {
		if (say_in_turn(language, text, true, depth, out))
			return;
		if (read_back(text, &reading)) {
			say_reading(language, &reading, text, depth, out);
			return;
		}
		if (say_in_turn(language, text, false, depth, out) ||
		    say_but_for_the_stop(language, text, depth, out))
			return;
	}
	/* A number, a component, a place, a name. */
	snprintf(value, sizeof value, "%s", words_tr(language, text));
	localise(language, value);
	words_put(out, value, strlen(value));
}

/* A text that was cut ends with a whole character of UTF-8. */
static size_t whole_characters(char *text, size_t length)
{
	size_t last = length; /* behind the last character's first byte */
	unsigned first;

	while (last > 0 && ((unsigned char)text[last - 1] & 0xc0u) == 0x80u)
		last--;
	first = last > 0 ? (unsigned char)text[last - 1] : 0u;
	if (length - last + 1 < (first >= 0xf0u   ? 4u
	                         : first >= 0xe0u ? 3u
	                         : first >= 0xc0u ? 2u
	                                          : 1u))
		length = last - 1;
	text[length] = '\0';
	return length;
}

size_t words_read_in(const struct words_language *language, const char *english, char *buffer,
                     size_t size)
{
	struct words_out out = {.buffer = buffer, .size = size};

	if (size == 0)
		return 0;
	buffer[0] = '\0';
	if (language == NULL)
		words_put(&out, english, strlen(english));
	else
		say_text(language, english, 0, &out);
	if (out.length + 1 == size)
		out.length = whole_characters(buffer, out.length);
	return out.length;
}
