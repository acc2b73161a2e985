/* SPDX-License-Identifier: MIT */
#include "piece_file.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/casting/heat.h"
#include "daemon/casting/optical.h"
#include "daemon/casting/water.h"

#define NAN_D ((double)NAN)

static const char *const shape_names[] = {"round", "rectangle", "ellipse", "ring", "polygon", NULL};
static const char *const stand_names[] = {"bench", "foam", "tray", NULL};
static const double stand_w_per_m2k[] = {HEAT_BOTTOM_BENCH_W_PER_M2K, HEAT_BOTTOM_FOAM_W_PER_M2K,
                                         HEAT_BOTTOM_TRAY_W_PER_M2K};
static const char day_names[7][4] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};

/* As written; NaN: absent. What it means is worked out afterwards. */
struct written_section {
	int shape;
	double height_mm, diameter_mm, width_mm, length_mm, inner_mm, taper_deg;
	double outline_mm[2u * CAVITY_VERTICES_MAX];
	size_t n_outline;
};

struct written_chip {
	double dose_pct, thickness_mm, transmitted;
};

struct written_coat {
	struct piece_coat coat;
	struct written_chip chip, second_chip;
};

struct written_inclusion {
	struct piece_inclusion inclusion;
	double mass_g, density_g_per_ml, dunked_g, water_degc;
};

struct written {
	struct piece piece;
	struct written_section sections[CAVITY_SECTIONS_MAX];
	double water[2u * CAVITY_POINTS_MAX];
	size_t n_water;
	struct written_coat coats[PIECE_COATS_MAX];
	struct written_inclusion inclusions[PIECE_INCLUSIONS_MAX];
	int stands_on;
	double mould_w_per_m2k;
	char mould[SYSTEM_LABEL_MAX];
	char from[8], to[8], days[40], start[16];
};

#define AT(member) .offset = offsetof(struct written, member)
#define TEXT(name, type, member, words)                                                            \
	{                                                                                          \
		name, CONF_TEXT, .offset = offsetof(struct type, member),                          \
		                 .size = sizeof(((struct type *)0)->member), .expected = words     \
	}
#define SIZE(name, type, member, low_, high_)                                                      \
	{                                                                                          \
		name, CONF_DOUBLE, .offset = offsetof(struct type, member), .low = low_,           \
		                   .high = high_                                                   \
	}

static const struct conf_spec section_specs[] = {
        {"shape", CONF_CHOICE, .required = true, .offset = offsetof(struct written_section, shape),
         .choices = shape_names},
        {"height_mm", CONF_DOUBLE, .required = true,
         .offset = offsetof(struct written_section, height_mm), .low = -1e6, .high = 1e6},
        SIZE("diameter_mm", written_section, diameter_mm, -1e6, 1e6),
        SIZE("width_mm", written_section, width_mm, -1e6, 1e6),
        SIZE("length_mm", written_section, length_mm, -1e6, 1e6),
        SIZE("inner_mm", written_section, inner_mm, -1e6, 1e6),
        SIZE("taper_deg", written_section, taper_deg, -89.0, 89.0),
        {"outline_mm", CONF_NUMBERS, .offset = offsetof(struct written_section, outline_mm),
         .low = -1e6, .high = 1e6, .most = 2u * CAVITY_VERTICES_MAX,
         .count = offsetof(struct written_section, n_outline)},
        {.key = NULL},
};

static const struct conf_spec cavity_specs[] = {
        {"sections", CONF_LIST, AT(sections), .size = sizeof(struct written_section),
         .group = section_specs, .most = CAVITY_SECTIONS_MAX,
         .count = offsetof(struct written, piece.cavity.n_sections)},
        {"water_mm_g", CONF_NUMBERS, AT(water), .low = 0.0, .high = 1e6,
         .most = 2u * CAVITY_POINTS_MAX, .count = offsetof(struct written, n_water)},
        {"water_degc", CONF_DOUBLE, AT(piece.cavity.water_degc), .low = WATER_MIN_DEGC,
         .high = WATER_MAX_DEGC},
        {.key = NULL},
};

static const struct conf_spec mould_specs[] = {
        TEXT("material", written, mould, "the mould's material, in at most 47 bytes"),
        {"stands_on", CONF_CHOICE, AT(stands_on), .choices = stand_names},
        {"bottom_w_per_m2k", CONF_DOUBLE, AT(mould_w_per_m2k), .low = 0.0, .high = 1000.0},
        {"heat_limit_degc", CONF_DOUBLE, AT(piece.mould_limit_degc), .low = 20.0, .high = 400.0},
        {.key = NULL},
};

#define CHIP_SPECS(name, member)                                                                   \
	static const struct conf_spec name[] = {                                                   \
	        {"dose_pct", CONF_DOUBLE, .required = true,                                        \
	         .offset = offsetof(struct written_coat, member.dose_pct), .low = 0.001,           \
	         .high = 30.0},                                                                    \
	        {"thickness_mm", CONF_DOUBLE, .required = true,                                    \
	         .offset = offsetof(struct written_coat, member.thickness_mm), .low = 0.1,         \
	         .high = 100.0},                                                                   \
	        {"transmitted", CONF_DOUBLE, .required = true,                                     \
	         .offset = offsetof(struct written_coat, member.transmitted), .low = 0.0001,       \
	         .high = 0.9999},                                                                  \
	        {.key = NULL},                                                                     \
	}
CHIP_SPECS(chip_specs, chip);
CHIP_SPECS(second_chip_specs, second_chip);

static const struct conf_spec coat_specs[] = {
        {"name", CONF_TEXT, .required = true, .offset = offsetof(struct written_coat, coat.name),
         .size = SYSTEM_LABEL_MAX},
        TEXT("system", written_coat, coat.system, "the id of a system"),
        SIZE("depth_mm", written_coat, coat.depth_mm, 0.01, 1000.0),
        TEXT("tint", written_coat, coat.tint, "the tint's name, in at most 47 bytes"),
        SIZE("tint_pct", written_coat, coat.tint_pct, 0.0, 30.0),
        {"chip", CONF_GROUP, .group = chip_specs},
        {"second_chip", CONF_GROUP, .group = second_chip_specs},
        {"top_coat", CONF_BOOL, .offset = offsetof(struct written_coat, coat.top_coat)},
        {"edge_tape", CONF_BOOL, .offset = offsetof(struct written_coat, coat.edge_tape)},
        SIZE("run_off_pct", written_coat, coat.run_off_pct, 0.0, 200.0),
        SIZE("coverage_g_per_m2", written_coat, coat.coverage_g_per_m2, 1.0, 100000.0),
        {.key = NULL},
};

static const struct conf_spec inclusion_specs[] = {
        {"name", CONF_TEXT, .required = true,
         .offset = offsetof(struct written_inclusion, inclusion.name), .size = SYSTEM_LABEL_MAX},
        {"rests_on", CONF_TEXT, .required = true,
         .offset = offsetof(struct written_inclusion, inclusion.rests_on), .size = SYSTEM_LABEL_MAX,
         .expected = "the name of the coat it rests on, or \"floor\""},
        {"height_mm", CONF_DOUBLE, .required = true,
         .offset = offsetof(struct written_inclusion, inclusion.height_mm), .low = 0.01,
         .high = 1000.0},
        {"count", CONF_INT, .offset = offsetof(struct written_inclusion, inclusion.count), .low = 1,
         .high = 10000},
        SIZE("across_mm", written_inclusion, inclusion.across_mm, 0.1, 10000.0),
        SIZE("volume_ml", written_inclusion, inclusion.volume_ml, 0.0, 1e6),
        SIZE("mass_g", written_inclusion, mass_g, 0.0001, 1e6),
        SIZE("density_g_per_ml", written_inclusion, density_g_per_ml, 0.01, 25.0),
        SIZE("dunked_g", written_inclusion, dunked_g, 0.0001, 1e6),
        SIZE("water_degc", written_inclusion, water_degc, WATER_MIN_DEGC, WATER_MAX_DEGC),
        SIZE("heat_limit_degc", written_inclusion, inclusion.heat_limit_degc, 20.0, 400.0),
        {"may_stand_out", CONF_BOOL,
         .offset = offsetof(struct written_inclusion, inclusion.may_stand_out)},
        {"dried", CONF_BOOL, .offset = offsetof(struct written_inclusion, inclusion.dried)},
        {.key = NULL},
};

static const struct conf_spec cup_specs[] = {
        SIZE("limit_g", written, piece.cup_limit_g, 5.0, 1e5),
        SIZE("loss_g", written, piece.cup_loss_g, 0.0, 1000.0),
        {"batches_max", CONF_INT, AT(piece.batches_max), .low = 1, .high = 50},
        SIZE("pour_g_per_s", written, piece.pour_g_per_s, 0.1, 500.0),
        {.key = NULL},
};

static const struct conf_spec hours_specs[] = {
        TEXT("from", written, from, "a time of day, \"08:00\""),
        TEXT("to", written, to, "a time of day, \"21:30\""),
        TEXT("days", written, days, "days of the week, \"mon tue sat\""),
        TEXT("start", written, start, "a day and a time, \"sat 09:00\""),
        {.key = NULL},
};

static const struct conf_spec piece_specs[] = {
        {"name", CONF_TEXT, .required = true, AT(piece.name), .size = SYSTEM_LABEL_MAX},
        TEXT("system", written, piece.system, "the id of a system"),
        {"cavity", CONF_GROUP, .required = true, .group = cavity_specs},
        {"mould", CONF_GROUP, .group = mould_specs},
        {"coats", CONF_LIST, .required = true, AT(coats), .size = sizeof(struct written_coat),
         .group = coat_specs, .most = PIECE_COATS_MAX,
         .count = offsetof(struct written, piece.n_coats)},
        {"inclusions", CONF_LIST, AT(inclusions), .size = sizeof(struct written_inclusion),
         .group = inclusion_specs, .most = PIECE_INCLUSIONS_MAX,
         .count = offsetof(struct written, piece.n_inclusions)},
        SIZE("room_degc", written, piece.room_degc, 0.0, 60.0),
        SIZE("resin_degc", written, piece.resin_degc, 0.0, 80.0),
        SIZE("humidity_pct", written, piece.humidity_pct, 1.0, 100.0),
        {"cup", CONF_GROUP, .group = cup_specs},
        {"hours", CONF_GROUP, .group = hours_specs},
        {.key = NULL},
};
#undef AT
#undef TEXT
#undef SIZE

struct meaning {
	struct conf_file *file;
	struct conf_report *report;
	struct written *written;
};

__attribute__((format(printf, 3, 4))) static void wrong(const struct meaning *of, const char *key,
                                                        const char *format, ...)
{
	char what[CONF_SENTENCE_MAX];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(what, sizeof(what), format, arguments);
	va_end(arguments);
	conf_wrong(of->report, conf_path(of->file), conf_line(of->file, key), key, "%s", what);
}

/* Which of the sizes a shape has. */
static void take_section(const struct meaning *of, size_t i)
{
	const struct written_section *from = &of->written->sections[i];
	struct cavity_section *to = &of->written->piece.cavity.sections[i];
	const bool across = from->shape == CAVITY_ROUND || from->shape == CAVITY_RING;
	char key[64];

	snprintf(key, sizeof(key), "cavity.sections.[%zu]", i);
	*to = (struct cavity_section){.shape = (enum cavity_shape)from->shape,
	                              .height_mm = from->height_mm,
	                              .taper_deg = isnan(from->taper_deg) ? 0.0 : from->taper_deg};
	if (from->shape == CAVITY_POLYGON) {
		if (from->n_outline < 6 || from->n_outline % 2 != 0) {
			wrong(of, key,
			      "outline_mm has %zu numbers; expected x and y of at least three "
			      "corners",
			      from->n_outline);
			return;
		}
		to->n_vertices = from->n_outline / 2;
		for (size_t v = 0; v < to->n_vertices; v++)
			to->vertices[v] = (struct cavity_vertex){from->outline_mm[2 * v],
			                                         from->outline_mm[2 * v + 1]};
		return;
	}
	to->width_mm = across ? from->diameter_mm : from->width_mm;
	to->length_mm = across ? from->diameter_mm : from->length_mm;
	to->inner_mm = from->shape == CAVITY_RING ? from->inner_mm : 0.0;
	if (isnan(to->width_mm) || isnan(to->length_mm) || isnan(to->inner_mm))
		wrong(of, key, "a size is missing; expected %s",
		      from->shape == CAVITY_ROUND  ? "diameter_mm"
		      : from->shape == CAVITY_RING ? "diameter_mm and inner_mm"
		                                   : "width_mm and length_mm");
}

static void take_cavity(const struct meaning *of)
{
	struct written *written = of->written;
	struct cavity *cavity = &written->piece.cavity;

	if ((cavity->n_sections > 0) == (written->n_water > 0)) {
		wrong(of, "cavity",
		      "expected either sections, its shape, or water_mm_g, what it took to fill "
		      "it");
		return;
	}
	if (written->n_water % 2 != 0) {
		wrong(of, "cavity.water_mm_g",
		      "it has %zu numbers; expected pairs of a height in mm and grams of water",
		      written->n_water);
		return;
	}
	for (size_t i = 0; i < cavity->n_sections; i++)
		take_section(of, i);
	cavity->n_points = written->n_water / 2;
	for (size_t i = 0; i < cavity->n_points; i++)
		cavity->points[i] =
		        (struct cavity_point){written->water[2 * i], written->water[2 * i + 1]};
}

static void take_tint(const struct meaning *of, size_t i)
{
	const struct written_coat *from = &of->written->coats[i];
	struct piece_coat *to = &of->written->piece.coats[i];
	const struct optical_chip chip = {from->chip.dose_pct, from->chip.thickness_mm,
	                                  from->chip.transmitted};
	const struct optical_chip second = {from->second_chip.dose_pct,
	                                    from->second_chip.thickness_mm,
	                                    from->second_chip.transmitted};
	struct optical_range range;
	char key[64];

	*to = from->coat;
	to->tint_eps_low = to->tint_eps_high = NAN_D;
	snprintf(key, sizeof(key), "coats.[%zu].second_chip", i);
	if (isnan(chip.dose_pct)) {
		if (!isnan(second.dose_pct))
			wrong(of, key, "it comes without a chip; expected chip, and for mica both");
		return;
	}
	if (!(to->tint_pct > 0.0)) {
		snprintf(key, sizeof(key), "coats.[%zu].chip", i);
		wrong(of, key, "it tells of a tint, and tint_pct is 0; expected the tint's dose");
		return;
	}
	if (isnan(second.dose_pct)) {
		if (optical_eps(&chip, &range.low) == 0)
			to->tint_eps_low = to->tint_eps_high = range.low;
	} else if (optical_eps_range(&chip, &second, &range) == 0) {
		to->tint_eps_low = range.low;
		to->tint_eps_high = range.high;
		if ((chip.dose_pct * chip.thickness_mm - second.dose_pct * second.thickness_mm) *
		            (chip.transmitted - second.transmitted) >
		    0.0)
			wrong(of, key,
			      "the chip with more tint in the light's way lets more of it through "
			      "(%.10g of it, the other %.10g); expected less: are they swapped?",
			      fmax(chip.transmitted, second.transmitted),
			      fmin(chip.transmitted, second.transmitted));
	} else {
		wrong(of, key, "both chips are %.10g mm thick; expected different thicknesses",
		      second.thickness_mm);
	}
}

/* Its volume as told, or by mass and density, or by dunking. */
static void take_inclusion(const struct meaning *of, size_t i)
{
	struct written_inclusion *from = &of->written->inclusions[i];
	struct piece_inclusion *to = &of->written->piece.inclusions[i];
	const bool told = !isnan(from->inclusion.volume_ml), dunked = !isnan(from->dunked_g);
	const bool weighed = !isnan(from->mass_g) && !isnan(from->density_g_per_ml);
	char key[64];

	snprintf(key, sizeof(key), "inclusions.[%zu]", i);
	*to = from->inclusion;
	if (told + dunked + weighed != 1) {
		wrong(of, key,
		      "\"%s\" has %s volume; expected one of volume_ml, mass_g with "
		      "density_g_per_ml, or dunked_g, what the scale gained when it was dunked",
		      to->name, told + dunked + weighed == 0 ? "no" : "more than one");
		return;
	}
	if (dunked)
		to->volume_ml = water_volume_ml(from->dunked_g, from->water_degc);
	else if (weighed)
		to->volume_ml = inclusion_volume_ml(from->mass_g, from->density_g_per_ml);
	if (strcmp(to->rests_on, "floor") == 0)
		to->rests_on[0] = '\0';
}

/* "09:30"; 24:00 ends a day. */
static bool time_of_day(const char *text, int *ret_min)
{
	int hour, minute, used = 0;

	if (sscanf(text, "%2d:%2d%n", &hour, &minute, &used) != 2 || text[used] != '\0' ||
	    strchr(text, '-') || hour < 0 || hour > 24 || minute < 0 || minute > 59 ||
	    hour * 60 + minute > 24 * 60)
		return false;
	*ret_min = hour * 60 + minute;
	return true;
}

static int day_of(const char *text)
{
	for (int i = 0; i < 7; i++)
		if (strncmp(text, day_names[i], 3) == 0)
			return i;
	return -1;
}

static void take_hours(const struct meaning *of)
{
	struct written *written = of->written;
	struct piece_hours *hours = &written->piece.hours;
	const char *text = written->days;

	if (written->from[0] != '\0' && !time_of_day(written->from, &hours->opens_min))
		wrong(of, "hours.from", "\"%s\" is no time of day; expected \"08:00\"",
		      written->from);
	if (written->to[0] != '\0' && !time_of_day(written->to, &hours->closes_min))
		wrong(of, "hours.to", "\"%s\" is no time of day; expected \"21:30\"", written->to);
	hours->start_min = hours->opens_min;
	if (written->start[0] != '\0') {
		hours->start_day = day_of(written->start);
		if (hours->start_day < 0 || written->start[3] != ' ' ||
		    !time_of_day(written->start + 4, &hours->start_min)) {
			wrong(of, "hours.start", "\"%s\" cannot be read; expected \"sat 09:00\"",
			      written->start);
			hours->start_day = 0;
		}
	}
	if (*text != '\0')
		hours->days = 0;
	while (*text != '\0') {
		int day = day_of(text);

		if (day < 0 || (text[3] != '\0' && text[3] != ' ')) {
			wrong(of, "hours.days", "\"%s\" cannot be read; expected \"mon tue sat\"",
			      written->days);
			return;
		}
		hours->days |= 1u << day;
		text += text[3] == ' ' ? 4 : 3;
	}
}

static void defaults(struct written *written)
{
	*written = (struct written){.mould_w_per_m2k = NAN_D};
	piece_defaults(&written->piece);
	written->piece.cavity.water_degc = 20.0;
	for (size_t i = 0; i < CAVITY_SECTIONS_MAX; i++)
		written->sections[i] = (struct written_section){.diameter_mm = NAN_D,
		                                                .width_mm = NAN_D,
		                                                .length_mm = NAN_D,
		                                                .inner_mm = NAN_D};
	for (size_t i = 0; i < PIECE_COATS_MAX; i++)
		written->coats[i].chip.dose_pct = written->coats[i].second_chip.dose_pct = NAN_D;
	for (size_t i = 0; i < PIECE_INCLUSIONS_MAX; i++)
		written->inclusions[i] = (struct written_inclusion){
		        .inclusion = {.volume_ml = NAN_D,
		                      .heat_limit_degc = PIECE_INCLUSION_LIMIT_DEGC,
		                      .count = 1},
		        .mass_g = NAN_D,
		        .density_g_per_ml = NAN_D,
		        .dunked_g = NAN_D,
		        .water_degc = 20.0};
}

static void take(const struct meaning *of)
{
	struct piece *piece = &of->written->piece;
	char sentence[PIECE_SENTENCE_MAX];
	const char *key = "";
	const int before = of->report->found;

	piece->bottom_w_per_m2k = stand_w_per_m2k[of->written->stands_on];
	if (!isnan(of->written->mould_w_per_m2k))
		piece->bottom_w_per_m2k = of->written->mould_w_per_m2k;
	take_cavity(of);
	for (size_t i = 0; i < piece->n_coats; i++)
		take_tint(of, i);
	for (size_t i = 0; i < piece->n_inclusions; i++)
		take_inclusion(of, i);
	take_hours(of);
	if (of->report->found == before && piece_complete(piece, sentence, &key) < 0)
		wrong(of, key, "%s", sentence);
}

static int read_open(struct conf_file *file, struct conf_report *report, struct piece *ret)
{
	struct written *written = malloc(sizeof(*written));
	const int before = report->found;
	int r = -ENOMEM;

	if (written != NULL) {
		const struct meaning of = {file, report, written};

		defaults(written);
		if (conf_read(file, piece_specs, written, report) == 0)
			take(&of);
		r = report->found > before ? -EINVAL : 0;
		if (r == 0)
			*ret = written->piece;
	}
	free(written);
	conf_close(file);
	return r;
}

int piece_file_read(const char *path, struct conf_report *report, struct piece *ret)
{
	struct conf_file *file = NULL;
	int r = conf_open(path, report, &file);

	return r < 0 ? r : read_open(file, report, ret);
}

int piece_file_text(const char *name, const char *text, struct conf_report *report,
                    struct piece *ret)
{
	struct conf_file *file = NULL;
	int r = conf_open_text(name, text, report, &file);

	return r < 0 ? r : read_open(file, report, ret);
}
