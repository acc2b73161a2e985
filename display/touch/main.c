/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>

#include "app.h"
#include "options.h"
#include "render.h"

int main(int argc, char **argv)
{
	struct options options;
	int r = options_parse(argc, argv, &options);

	if (r != 0)
		return r > 0 ? EXIT_SUCCESS : 2;
	if (!options.languages)
		options.languages = AMBO_LANGUAGES;
	if (options.render) {
		double width_mm = options.width_mm > 0.0 ? options.width_mm : LAYOUT_LONG_MM;
		const struct render_options render = {
		        options.render,
		        options.state,
		        options.out,
		        options.language ? options.language : "en",
		        options.languages,
		        options.theme,
		        options.hand,
		        {options.width_px, options.height_px, options.width_px / width_mm}};
		char sentence[256];

		if (layout_check(width_mm, options.height_px / render.glass.px_per_mm, sentence,
		                 sizeof sentence) < 0) {
			fprintf(stderr, "ambo-display: %s\n", sentence);
			return 2;
		}
		return render_png(&render);
	}
	return app_run(&options);
}
