/* SPDX-License-Identifier: MIT */
#include "draw.h"

/* What is done at the bench but mixing. */

void screen_bench(const struct draw *draw)
{
	static const struct {
		int32_t screen;
		const char *name;
	} rows[] = {
	        {SCREEN_CHECK, N_("Daily check")},   {SCREEN_CALIBRATE, N_("Calibrate")},
	        {SCREEN_SCALE, N_("Weigh")},         {SCREEN_CLOCKS, N_("Clocks")},
	        {SCREEN_ENTER, N_("Enter a resin")}, {SCREEN_SETTINGS, N_("Settings")},
	};
	struct box body = draw->layout.body;
	int columns = draw->layout.portrait ? 2 : 3, n_rows = 6 / columns;
	struct strip_button main;

	for (int i = 0; i < 6; i++) {
		struct box row = layout_row(body, i / columns, n_rows);

		row.h = row.h > 34.0 ? 34.0 : row.h;
		draw_button(draw, layout_column(row, i % columns, columns), TONE_PLAIN,
		            (struct act){ACT_GO, rows[i].screen}, _(rows[i].name));
	}
	draw_back_button(draw, &main);
	draw_strip(draw, &main, 1);
}
