/* SPDX-License-Identifier: MIT */
#include "nearest.h"

#include <stdint.h>
#include <string.h>

#define WORD_MAX 48u

/* Two rows of the usual table; words past WORD_MAX are far from everything. */
static size_t distance(const char *a, const char *b)
{
	const size_t n = strlen(a), m = strlen(b);
	size_t row[WORD_MAX + 1u], previous, above;

	if (n > WORD_MAX || m > WORD_MAX)
		return SIZE_MAX;
	for (size_t j = 0; j <= m; j++)
		row[j] = j;
	for (size_t i = 1; i <= n; i++) {
		previous = row[0];
		row[0] = i;
		for (size_t j = 1; j <= m; j++) {
			size_t best = previous + (a[i - 1] != b[j - 1]);

			above = row[j];
			if (above + 1 < best)
				best = above + 1;
			if (row[j - 1] + 1 < best)
				best = row[j - 1] + 1;
			previous = above;
			row[j] = best;
		}
	}
	return row[m];
}

const char *nearest_of(const char *word, const char *const *names, size_t n_names)
{
	const char *best = NULL;
	size_t least = strlen(word) / 3 > 2 ? strlen(word) / 3 : 2;

	for (size_t i = 0; i < n_names; i++) {
		size_t d = distance(word, names[i]);

		/* A short name is not "near" when nearly all of it differs. */
		if (d <= least && d < strlen(names[i]) && (best == NULL || d < least)) {
			best = names[i];
			least = d;
		}
	}
	return best;
}
