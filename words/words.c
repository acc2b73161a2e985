/* SPDX-License-Identifier: MIT */
#include "words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "words_inside.h"
#include "words_read.h"
#include "words_table.h"

#define N_(english) english /* collected for the catalogue, translated by words_tr() */

/* Masses beyond this are nonsense; clamping keeps every number inside its buffer. */
#define LARGEST_SHOWN 1e9

static double shown(double value)
{
	return isfinite(value) ? fmin(fabs(value), LARGEST_SHOWN) : 0.0;
}

void words_mass(double mass_g, bool pouring, char *buffer)
{
	double g = shown(mass_g);

	snprintf(buffer, WORDS_NUMBER_MAX, pouring && g >= 1000.0 ? "%.0f g" : "%.1f g", g);
}

void words_pct(double pct, char *buffer)
{
	/* The small step back keeps a decimal that is exact on paper where it is. */
	double tenths = ceil(shown(pct) * 10.0 - 1e-6);

	snprintf(buffer, WORDS_NUMBER_MAX, "%.1f %%", fmax(tenths, 0.0) / 10.0);
}

void words_duration(double seconds, char *buffer)
{
	long s = lround(shown(seconds));

	if (s < 60)
		snprintf(buffer, WORDS_NUMBER_MAX, "%ld s", s);
	else if (s < 3600 && s % 60 == 0)
		snprintf(buffer, WORDS_NUMBER_MAX, "%ld min", s / 60);
	else if (s < 3600)
		snprintf(buffer, WORDS_NUMBER_MAX, "%ld min %ld s", s / 60, s % 60);
	else
		snprintf(buffer, WORDS_NUMBER_MAX, "%ld h %ld min", s / 3600, s % 3600 / 60);
}

void words_mass_in(const struct words_language *language, double mass_g, bool pouring, char *buffer)
{
	words_mass(mass_g, pouring, buffer);
	words_localise(language, buffer);
}

static const char *short_word(enum component component)
{
	switch (component) {
	case COMPONENT_A:
		return "A";
	case COMPONENT_B:
		return "B";
	case COMPONENT_TINT:
		return N_("TINT");
	case COMPONENT_FILLER:
		return N_("FILLER");
	case COMPONENT_MIXED:
		return N_("MIX");
	}
	return "?";
}

size_t words_label(enum component component, const struct resin_system *system, char *buffer,
                   size_t size)
{
	return words_label_in(NULL, component, system, buffer, size);
}

size_t words_label_in(const struct words_language *l, enum component component,
                      const struct resin_system *system, char *buffer, size_t size)
{
	static const char *const plain[] = {"A", "B", N_("tint"), N_("filler"), N_("mixed resin")};
	unsigned i = (unsigned)component;
	int n;

	if (size == 0)
		return 0;
	if (i <= PART_B && system && system->part[i].label[0])
		n = snprintf(buffer, size, "%s %.*s", plain[i], (int)SYSTEM_LABEL_MAX - 1,
		             system->part[i].label);
	else
		n = snprintf(buffer, size, "%s",
		             words_tr(l, i < sizeof plain / sizeof *plain ? plain[i] : N_("part")));
	return n < 0 ? 0 : (size_t)n < size ? (size_t)n : size - 1;
}

static void words_hardener(const struct words_language *l, const struct resin_system *system,
                           char *buffer)
{
	if (system)
		words_label_in(l, (enum component)system->hardener, system, buffer,
		               WORDS_LABEL_MAX);
	else
		snprintf(buffer, WORDS_LABEL_MAX, "%s", words_tr(l, N_("hardener")));
}

/* {d}: the number, {h}: the hardener's label. */
void words_deviation_in(const struct words_language *l, double pct,
                        const struct resin_system *system, char *buffer, size_t size)
{
	const char *template =
	        words_tr(l, pct < 0.0 ? N_("{d} too little {h}") : N_("{d} too much {h}"));
	char number[WORDS_NUMBER_MAX], hardener[WORDS_LABEL_MAX];
	struct words_out out = {.buffer = buffer, .size = size};

	words_pct(pct, number);
	words_localise(l, number);
	words_hardener(l, system, hardener);
	buffer[0] = '\0';
	for (const char *c = template; *c; c++) {
		const bool gap = c[0] == '{' && (c[1] == 'd' || c[1] == 'h') && c[2] == '}';
		const char *value = !gap ? c : c[1] == 'd' ? number : hardener;

		words_put(&out, value, gap ? strlen(value) : 1);
		c += gap ? 2 : 0;
	}
}

/* One argument as text. Returns 0 when the message does not carry it. */
static int argument(char name, const struct message *m, const struct resin_system *system,
                    const struct words_language *l, char *buffer, size_t size)
{
	static const struct {
		char name;
		unsigned needs;
	} need[] = {
	        {'C', MESSAGE_HAS_COMPONENT}, {'c', MESSAGE_HAS_COMPONENT},
	        {'o', MESSAGE_HAS_OTHER},     {'m', MESSAGE_HAS_MASS_G},
	        {'g', MESSAGE_HAS_MASS_G},    {'M', MESSAGE_HAS_OTHER_MASS_G},
	        {'p', MESSAGE_HAS_PCT},       {'d', MESSAGE_HAS_PCT},
	        {'P', MESSAGE_HAS_OTHER_PCT}, {'s', MESSAGE_HAS_SECONDS},
	        {'t', MESSAGE_HAS_TEXT},      {'S', MESSAGE_HAS_OTHER_SECONDS},
	};
	char told[SYSTEM_LABEL_MAX];

	buffer[0] = '\0';
	for (size_t i = 0; i < sizeof need / sizeof *need; i++)
		if (need[i].name == name && !(m->has & need[i].needs))
			return 0;
	switch (name) {
	case 'C':
		snprintf(buffer, size, "%s", words_tr(l, short_word(m->component)));
		break;
	case 'c':
		words_label_in(l, m->component, system, buffer, size);
		break;
	case 'o':
		words_label_in(l, m->other, system, buffer, size);
		break;
	case 'm':
	case 'g':
		words_mass_in(l, m->mass_g, name == 'g', buffer);
		break;
	case 'M':
		words_mass_in(l, m->other_mass_g, false, buffer);
		break;
	case 'p':
		words_pct(m->pct, buffer);
		words_localise(l, buffer);
		break;
	case 'P':
		words_pct(m->other_pct, buffer);
		words_localise(l, buffer);
		break;
	case 'd':
		words_deviation_in(l, m->pct, system, buffer, size);
		break;
	case 'h':
		words_hardener(l, system, buffer);
		break;
	case 's':
		words_duration(m->seconds, buffer);
		break;
	case 'S':
		words_duration(m->other_seconds, buffer);
		break;
	case 't':
		snprintf(told, sizeof told, "%.*s", (int)sizeof m->text - 1, m->text);
		if (m->id == MESSAGE_STORE_FAILED || m->id == MESSAGE_BAD_REQUEST)
			words_read_in(l, told, buffer, size);
		else /* a lot, a date */
			snprintf(buffer, size, "%s", told);
		break;
	case 'r':
		if (l && l->read_back)
			snprintf(buffer, size, "%s", l->read_back);
		else if (system)
			system_read_back(system, buffer);
		else
			snprintf(buffer, size, "%s",
			         words_tr(l, N_("is it the system on the label?")));
		break;
	}
	return 1;
}

/* Writes from template to its end or to one of "|]"; returns where it stopped.
 * *ret_whole is 0 when an argument was unknown. */
static const char *render_run(const char *template, const struct message *m,
                              const struct resin_system *system, const struct words_language *l,
                              int brackets, struct words_out *out, int *ret_whole);

/* [first|instead]: template stands behind the bracket. Returns behind its end. */
static const char *render_choice(const char *template, const struct message *m,
                                 const struct resin_system *system, const struct words_language *l,
                                 int brackets, struct words_out *out)
{
	size_t start = out->length;
	int whole = 1, ignored;

	template = render_run(template, m, system, l, brackets, out, &whole);
	if (!whole || !brackets) {
		out->length = start;
		out->buffer[start] = '\0';
		whole = 0;
	}
	while (*template == '|') {
		struct words_out nowhere = {.buffer = (char[1]){0}, .size = 1};

		template = render_run(template + 1, m, system, l, brackets, whole ? &nowhere : out,
		                      &ignored);
		whole = 1;
	}
	return *template == ']' ? template + 1 : template;
}

static const char *render_run(const char *template, const struct message *m,
                              const struct resin_system *system, const struct words_language *l,
                              int brackets, struct words_out *out, int *ret_whole)
{
	char text[SYSTEM_SENTENCE_MAX];

	while (*template && *template != '|' && *template != ']') {
		if (template[0] == '[') {
			template = render_choice(template + 1, m, system, l, brackets, out);
		} else if (template[0] == '{') {
			if (!argument(template[1], m, system, l, text, sizeof text)) {
				*ret_whole = 0;
				snprintf(text, sizeof text, "%s", words_tr(l, N_("this part")));
			}
			words_put(out, text, strlen(text));
			template += 3;
		} else {
			words_put(out, template ++, 1);
		}
	}
	return template;
}

static size_t render(const char *template, const struct message *m,
                     const struct resin_system *system, const struct words_language *l,
                     int brackets, char *buffer, size_t size)
{
	struct words_out out = {.buffer = buffer, .size = size};
	int whole = 1;

	if (size == 0)
		return 0;
	buffer[0] = '\0';
	render_run(template, m, system, l, brackets, &out, &whole);
	/* A sentence may open with a phrase that was left out. */
	if (buffer[0] >= 'a' && buffer[0] <= 'z')
		buffer[0] = (char)(buffer[0] - 'a' + 'A');
	return out.length;
}

const char *words_row_template(unsigned i)
{
	return i < MESSAGE_COUNT ? words_rows[i].sentence : NULL;
}

static const struct words_row *row_of(const struct message *message)
{
	unsigned id = (unsigned)message->id;

	return &words_rows[id < MESSAGE_COUNT ? id : MESSAGE_NONE];
}

size_t words_in(const struct words_language *l, enum words_what what, const struct message *message,
                const struct resin_system *system, char *buffer, size_t size)
{
	const struct words_row *row = row_of(message);
	int brackets = 1;
	char whole[4 * WORDS_HEADLINE_MAX];

	switch (what) {
	case WORDS_HEADLINE:
		render(words_tr(l, row->headline), message, system, l, 1, whole, sizeof whole);
		brackets = words_characters(whole) < WORDS_HEADLINE_MAX;
		return render(words_tr(l, row->headline), message, system, l, brackets, buffer,
		              size);
	case WORDS_SENTENCE:
		return render(words_tr(l, row->sentence), message, system, l, 1, buffer, size);
	case WORDS_CAUTION:
		return render(words_tr(l, row->caution), message, system, l, 1, buffer, size);
	}
	return 0;
}

size_t words_headline(const struct message *message, const struct resin_system *system,
                      char *buffer, size_t size)
{
	return words_in(NULL, WORDS_HEADLINE, message, system, buffer, size);
}

size_t words_sentence(const struct message *message, const struct resin_system *system,
                      char *buffer, size_t size)
{
	return words_in(NULL, WORDS_SENTENCE, message, system, buffer, size);
}

size_t words_caution(const struct message *message, const struct resin_system *system, char *buffer,
                     size_t size)
{
	return words_in(NULL, WORDS_CAUTION, message, system, buffer, size);
}
