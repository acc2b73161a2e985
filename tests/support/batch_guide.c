/* SPDX-License-Identifier: MIT */
#include "batch_guide.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/records/store.h"

static const struct resin_system system_of_test = {
        .id = "tidepool-clear",
        .name = "Tidepool Clear",
        .part = {{.label = "resin",
                  .parts = 100,
                  .density_g_per_ml = 1.12,
                  .lot = "T-0417",
                  .expiry = "2027-05-31",
                  .available_g = -1,
                  .bottle_gross_g = -1},
                 {.label = "hardener",
                  .parts = 45,
                  .lot = "H-22",
                  .available_g = -1,
                  .bottle_gross_g = -1}},
        .hardener = PART_B,
        .basis = BASIS_WEIGHT,
        .tolerance_pct = 2,
        .working_life_s = 2400,
        .working_life_mass_g = 100,
        .working_life_degc = 25,
        .stir_s = 240,
        .tint_max_pct = 3,
};

static const struct guide_dispense dispense_of_test[] = {
        {.component = COMPONENT_A,
         .identity = IDENTITY_BOTTLE,
         .before = 1,
         .after = 2,
         .mass_g = 227.5,
         .start_us = 10000000,
         .end_us = 40000000},
        {.component = COMPONENT_B,
         .identity = IDENTITY_BY_HAND,
         .before = 2,
         .after = 3,
         .mass_g = 102.4,
         .start_us = 55000000,
         .end_us = 90000000},
        {.component = COMPONENT_TINT,
         .identity = IDENTITY_BY_HAND,
         .before = 3,
         .after = 3,
         .by_eye = true,
         .mass_g = 0.25,
         .start_us = 95000000,
         .end_us = 95000000},
};

static const struct weighing_point point_of_test[] = {
        {.gross_g = 0.05, .u_g = 0.03},       /* the pan */
        {.gross_g = 12.345678, .u_g = 0.03},  /* the cup */
        {.gross_g = 239.845678, .u_g = 0.04}, /* and A */
        {.gross_g = 342.245678, .u_g = 0.03}, /* and B */
};

static void recipe_of_test(struct recipe *ret)
{
	*ret = (struct recipe){
	        .system = system_of_test,
	        .total_g = 330,
	        .tolerance_pct = 2,
	        .ratio = 0.45,
	        .cup_limit_g = 700,
	        .max_g = 3000,
	        .interval_g = 0.1,
	        .stir_s = 240,
	        .working_life_s = 1800,
	        .smallest_dose_g = 0.6,
	        .u_reading_g = 0.03,
	        .piece = "fern clock",
	        .layer = "1",
	        .n_charges = 2,
	        .charge = {{.component = COMPONENT_A, .label = "resin", .target_g = 227.586207},
	                   {.component = COMPONENT_B, .label = "hardener", .target_g = 102.413793}},
	};
}

void batch_guide(enum guide_step step, uint32_t n_dispenses, struct guide *ret)
{
	struct recipe recipe;
	char *text;
	size_t length;
	int line;

	recipe_of_test(&recipe);
	guide_begin(&recipe, ret);
	ret->step = step;
	ret->resume_step = GUIDE_CHARGE;
	memcpy(ret->point, point_of_test, sizeof point_of_test);
	ret->n_points = 4;
	ret->start_point = 1;
	ret->u_g = 0.03;
	ret->pan_g = 0.05;
	ret->cup_g = 12.295678;
	ret->pan_known = ret->cup_known = step >= GUIDE_CHARGE;
	memcpy(ret->dispense, dispense_of_test, sizeof dispense_of_test);
	ret->n_dispenses = n_dispenses;
	if (n_dispenses >= 2) {
		ret->verdict = VERDICT_WITHIN;
		ret->life_start_us = 55000000;
		ret->life_end_us = 1855000000;
	}
	/* Once through its own text, so that what follows from the state follows. */
	length = guide_write(ret, NULL, 0);
	text = malloc(length + 1);
	guide_write(ret, text, length + 1);
	if (guide_read(text, ret, &line) < 0) {
		fprintf(stderr, "line %d of this guide is not understood:\n%s", line, text);
		abort();
	}
	free(text);
}

void batch_stamp(int64_t t_us, struct store_stamp *ret)
{
	*ret = (struct store_stamp){
	        .boot_id = "0b2f1a52-7c3d-4a53-9d51-3f9a0b1c2d3e",
	        .boottime_us = 5000000000 + t_us,
	        .realtime_us = 1790000000000000 + t_us,
	        .synchronised = true,
	};
}
