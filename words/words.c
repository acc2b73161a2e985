/* SPDX-License-Identifier: MIT */
#include "words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "words_table.h"

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

static const char *short_word(enum component component)
{
	switch (component) {
	case COMPONENT_A:
		return "A";
	case COMPONENT_B:
		return "B";
	case COMPONENT_TINT:
		return "TINT";
	case COMPONENT_FILLER:
		return "FILLER";
	case COMPONENT_MIXED:
		return "MIX";
	}
	return "?";
}

size_t words_label(enum component component, const struct resin_system *system, char *buffer,
                   size_t size)
{
	static const char *const plain[] = {"A", "B", "tint", "filler", "mixed resin"};
	unsigned i = (unsigned)component;
	int n;

	if (size == 0)
		return 0;
	if (i <= PART_B && system && system->part[i].label[0])
		n = snprintf(buffer, size, "%s %.*s", plain[i], (int)SYSTEM_LABEL_MAX - 1,
		             system->part[i].label);
	else
		n = snprintf(buffer, size, "%s",
		             i < sizeof plain / sizeof *plain ? plain[i] : "part");
	return n < 0 ? 0 : (size_t)n < size ? (size_t)n : size - 1;
}

static void words_hardener(const struct resin_system *system, char *buffer)
{
	if (system)
		words_label((enum component)system->hardener, system, buffer, WORDS_LABEL_MAX);
	else
		snprintf(buffer, WORDS_LABEL_MAX, "hardener");
}

static void words_deviation(double pct, const struct resin_system *system, char *buffer,
                            size_t size)
{
	char number[WORDS_NUMBER_MAX], hardener[WORDS_LABEL_MAX];

	words_pct(pct, number);
	words_hardener(system, hardener);
	snprintf(buffer, size, "%s too %s %s", number, pct < 0.0 ? "little" : "much", hardener);
}

/* One argument as text. Returns 0 when the message does not carry it. */
static int argument(char name, const struct message *m, const struct resin_system *system,
                    char *buffer, size_t size)
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

	buffer[0] = '\0';
	for (size_t i = 0; i < sizeof need / sizeof *need; i++)
		if (need[i].name == name && !(m->has & need[i].needs))
			return 0;
	switch (name) {
	case 'C':
		snprintf(buffer, size, "%s", short_word(m->component));
		break;
	case 'c':
		words_label(m->component, system, buffer, size);
		break;
	case 'o':
		words_label(m->other, system, buffer, size);
		break;
	case 'm':
	case 'g':
		words_mass(m->mass_g, name == 'g', buffer);
		break;
	case 'M':
		words_mass(m->other_mass_g, false, buffer);
		break;
	case 'p':
		words_pct(m->pct, buffer);
		break;
	case 'P':
		words_pct(m->other_pct, buffer);
		break;
	case 'd':
		words_deviation(m->pct, system, buffer, size);
		break;
	case 'h':
		words_hardener(system, buffer);
		break;
	case 's':
		words_duration(m->seconds, buffer);
		break;
	case 'S':
		words_duration(m->other_seconds, buffer);
		break;
	case 't':
		snprintf(buffer, size, "%.*s", (int)sizeof m->text - 1, m->text);
		break;
	case 'r':
		if (system)
			system_read_back(system, buffer);
		else
			snprintf(buffer, size, "is it the system on the label?");
		break;
	}
	return 1;
}

struct out {
	char *buffer;
	size_t size, length;
};

static void put(struct out *out, const char *text, size_t n)
{
	for (size_t i = 0; i < n && out->length + 1 < out->size; i++)
		out->buffer[out->length++] = text[i];
	out->buffer[out->length] = '\0';
}

/* Writes from template to its end or to one of "|]"; returns where it stopped.
 * *ret_whole is 0 when an argument was unknown. */
static const char *render_run(const char *template, const struct message *m,
                              const struct resin_system *system, int brackets, struct out *out,
                              int *ret_whole);

/* [first|instead]: template stands behind the bracket. Returns behind its end. */
static const char *render_choice(const char *template, const struct message *m,
                                 const struct resin_system *system, int brackets, struct out *out)
{
	size_t start = out->length;
	int whole = 1, ignored;

	template = render_run(template, m, system, brackets, out, &whole);
	if (!whole || !brackets) {
		out->length = start;
		out->buffer[start] = '\0';
		whole = 0;
	}
	while (*template == '|') {
		struct out nowhere = {.buffer = (char[1]){0}, .size = 1};

		template = render_run(template + 1, m, system, brackets, whole ? &nowhere : out,
		                      &ignored);
		whole = 1;
	}
	return *template == ']' ? template + 1 : template;
}

static const char *render_run(const char *template, const struct message *m,
                              const struct resin_system *system, int brackets, struct out *out,
                              int *ret_whole)
{
	char text[SYSTEM_SENTENCE_MAX];

	while (*template && *template != '|' && *template != ']') {
		if (template[0] == '[') {
			template = render_choice(template + 1, m, system, brackets, out);
		} else if (template[0] == '{') {
			if (!argument(template[1], m, system, text, sizeof text)) {
				*ret_whole = 0;
				snprintf(text, sizeof text, "this part");
			}
			put(out, text, strlen(text));
			template += 3;
		} else {
			put(out, template ++, 1);
		}
	}
	return template;
}

static size_t render(const char *template, const struct message *m,
                     const struct resin_system *system, int brackets, char *buffer, size_t size)
{
	struct out out = {.buffer = buffer, .size = size};
	int whole = 1;

	if (size == 0)
		return 0;
	buffer[0] = '\0';
	render_run(template, m, system, brackets, &out, &whole);
	/* A sentence may open with a phrase that was left out. */
	if (buffer[0] >= 'a' && buffer[0] <= 'z')
		buffer[0] = (char)(buffer[0] - 'a' + 'A');
	return out.length;
}

static const struct words_row *row_of(const struct message *message)
{
	unsigned id = (unsigned)message->id;

	return &words_rows[id < MESSAGE_COUNT ? id : MESSAGE_NONE];
}

size_t words_headline(const struct message *message, const struct resin_system *system,
                      char *buffer, size_t size)
{
	const char *template = row_of(message)->headline;
	char whole[64];
	int fits = render(template, message, system, 1, whole, sizeof whole) < WORDS_HEADLINE_MAX;

	return render(template, message, system, fits, buffer, size);
}

size_t words_sentence(const struct message *message, const struct resin_system *system,
                      char *buffer, size_t size)
{
	return render(row_of(message)->sentence, message, system, 1, buffer, size);
}

size_t words_caution(const struct message *message, const struct resin_system *system, char *buffer,
                     size_t size)
{
	return render(row_of(message)->caution, message, system, 1, buffer, size);
}
