/* SPDX-License-Identifier: MIT */
#include "mix_screen.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "words/words.h"

#define CLEAR "\033[K"
#define BOLD  "\033[1m"
#define PLAIN "\033[0m"

/* Cells filled on each side, of half; halves of a cell are lost, never gained: the
 * ends meet only when nothing is left. */
static int filled(double share, int half)
{
	double open = sqrt(fmin(fmax(share, 0.0), 1.0));

	return (int)floor((double)half * (1.0 - open));
}

void mix_screen_bar(double share, int columns, bool utf8, char buffer[MIX_SCREEN_BAR_MAX])
{
	const char *solid = utf8 ? "━" : "=", *left = utf8 ? "▶" : ">", *right = utf8 ? "◀" : "<";
	const char *gap = utf8 ? "·" : ".", *middle = utf8 ? "┃" : "|", *over = utf8 ? "╳" : "X";
	int half = (columns - 1) / 2, full, past;
	size_t n = 0;

	if (half > 80)
		half = 80;
	full = filled(share, half);
	/* Past the middle the same scale runs outwards again. */
	past = share < 0.0 ? half - filled(-share, half) : 0;
	if (share < 0.0 && past < 1)
		past = 1;
	for (int cell = -half; cell <= half && n + 8 < MIX_SCREEN_BAR_MAX; cell++) {
		int from_end = half - (cell < 0 ? -cell : cell); /* 0 at the ends of the bar */
		const char *glyph = from_end < full - 1    ? solid
		                    : from_end == full - 1 ? (cell < 0 ? left : right)
		                                           : gap;

		if (cell == 0)
			glyph = middle;
		else if (half - from_end <= past)
			glyph = over;
		n += (size_t)snprintf(buffer + n, MIX_SCREEN_BAR_MAX - n, "%s", glyph);
	}
}

/* What is left, from the newest reading where it has it, else from the batch. */
static bool left_of(const struct live *live, double *ret_left_g, double *ret_target_g)
{
	if (!dict_number(&live->batch, "Quantities.TargetGrams", ret_target_g) ||
	    !(*ret_target_g > 0.0))
		return false;
	return dict_number(&live->reading.quantities, "RemainingGrams", ret_left_g) ||
	       dict_number(&live->batch, "Quantities.RemainingGrams", ret_left_g);
}

static void draw_number(FILE *out, const struct live *live)
{
	char mass[WORDS_NUMBER_MAX], target[WORDS_NUMBER_MAX];
	double left_g, target_g;

	fprintf(out, "  " BOLD "%-12s" PLAIN, dict_text(&live->batch, "Headline"));
	if (left_of(live, &left_g, &target_g)) {
		words_mass(left_g, true, mass);
		words_mass(target_g, true, target);
		fprintf(out, "  " BOLD "%10s" PLAIN " %s, of %s %s", mass,
		        left_g < 0.0 ? "too much" : "to go", target,
		        dict_text(&live->batch, "ComponentLabel"));
	} else if (dict_number(&live->reading.quantities, "NetGrams", &left_g)) {
		words_mass(left_g, false, mass);
		fprintf(out, "  %10s%s on the pan", mass, left_g <= -0.05 ? " under zero" : "");
	}
	fputs(CLEAR "\n", out);
}

static void draw_bar(FILE *out, const struct mix_screen *screen, const struct live *live)
{
	char bar[MIX_SCREEN_BAR_MAX];
	double left_g, target_g;

	if (left_of(live, &left_g, &target_g)) {
		mix_screen_bar(left_g / target_g, screen->columns - 4, screen->utf8, bar);
		fprintf(out, "  %s", bar);
	}
	fputs(CLEAR "\n", out);
}

/* A line cut to the screen's width, so that redrawing in place never wraps. Bytes
 * count as cells: a cut inside a character steps back to its start. */
static void draw_cut(FILE *out, const char *lead, const char *text, int columns)
{
	int room = columns - 2 - (int)strlen(lead), n = (int)strlen(text);

	if (n > room) {
		n = room > 0 ? room : 0;
		while (n > 0 && ((unsigned char)text[n] & 0xC0) == 0x80)
			n--;
	}
	fprintf(out, "%s%.*s" CLEAR "\n", lead, n, text);
}

static void draw_verdict(FILE *out, const struct live *live, int columns)
{
	const char *verdict = dict_text(&live->batch, "Verdict");
	char ratio[96] = "", stir[48] = "", life[64] = "", line[224], text[WORDS_NUMBER_MAX];
	double value;

	if (*verdict && strcmp(verdict, "none") != 0) {
		snprintf(ratio, sizeof ratio, "%s%.20s   ",
		         dict_bool(&live->batch, "Provisional") ? "provisionally " : "", verdict);
		if (dict_number(&live->batch, "Quantities.DeviationPercent", &value)) {
			words_pct(value, text);
			snprintf(ratio, sizeof ratio, "%s%.20s, %s too %s hardener   ",
			         dict_bool(&live->batch, "Provisional") ? "provisionally " : "",
			         verdict, text, value < 0.0 ? "little" : "much");
		}
	}
	if (dict_number(&live->batch, "Quantities.StirLeftSeconds", &value)) {
		words_duration(value, text);
		snprintf(stir, sizeof stir, "stir %s   ", text);
	}
	if (dict_number(&live->batch, "Quantities.WorkingLifeLeftSeconds", &value)) {
		words_duration(value, text);
		snprintf(life, sizeof life, "working life %s", text);
	}
	snprintf(line, sizeof line, "%s%s%s", ratio, stir, life);
	draw_cut(out, "  ", line, columns);
}

/* Between words, but not between a number and its unit. */
static bool breaks(const char *text, int n)
{
	return text[n] == ' ' && !(text[n - 1] >= '0' && text[n - 1] <= '9');
}

/* A text over a fixed number of lines, broken between words; what is over is cut. */
static void draw_text(FILE *out, const char *lead, const char *text, int columns, int lines)
{
	for (; lines > 0; lines--) {
		int room = columns - 2 - (int)strlen(lead), n = (int)strlen(text);
		char line[512];

		if (n > room && lines > 1)
			for (n = room > 0 ? room : 0; n > 0 && !breaks(text, n); n--)
				;
		snprintf(line, sizeof line, "%.*s", n, text);
		draw_cut(out, n > 0 ? lead : "", line, columns);
		text += n;
		text += *text == ' ';
	}
}

static const char *press_words(const char *meaning)
{
	static const char *const words[][2] = {
	        {"start", "start"},
	        {"next", "next bottle in hand"},
	        {"top-up", "set it right"},
	        {"is-resin", "that was resin"},
	        {"go-on", "go on"},
	        {"stir", "stir"},
	        {"stirred", "it is stirred"},
	        {"poured", "it is poured"},
	        {"accept", "accept the doubt"},
	};

	for (size_t i = 0; i < sizeof words / sizeof *words; i++)
		if (strcmp(words[i][0], meaning) == 0)
			return words[i][1];
	return NULL;
}

static void draw_keys(FILE *out, const struct mix_screen *screen, const struct live *live)
{
	const char *press = press_words(dict_text(&live->batch, "PressMeans"));
	char keys[256];

	snprintf(keys, sizeof keys, "%s%s%sh hold   o that was the other part   d d discard",
	         press ? "Enter " : "", press ? press : "", press ? "   " : "");
	draw_cut(out, "  ", keys, screen->columns);
	draw_cut(
	        out, "  ",
	        screen->bench
	                ? "c cup  p pour/stop  s slower  l lift  r return  e empty  w wipe  k knock"
	                : "",
	        screen->columns);
}

void mix_screen_draw(FILE *out, const struct mix_screen *screen, const struct live *live)
{
	char head[256];

	snprintf(head, sizeof head, "batch %" PRId64 "   %s   %s   scale %s",
	         dict_whole(&live->batch, "Id"), dict_text(&live->batch, "System"),
	         live->gone ? "the station is gone: waiting for it"
	                    : dict_text(&live->batch, "Step"),
	         live->reading.state);
	draw_cut(out, "  ", head, screen->columns);
	draw_number(out, live);
	draw_bar(out, screen, live);
	draw_text(out, "  ", dict_text(&live->batch, "Sentence"), screen->columns, 2);
	draw_verdict(out, live, screen->columns);
	draw_text(out, "  ! ", dict_text(&live->batch, "Caution"), screen->columns, 4);
	draw_text(out, "  > ", screen->note ? screen->note : "", screen->columns, 1);
	draw_keys(out, screen, live);
}
