/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TOUCH_MODEL_JSON_H
#define AMBO_TOUCH_MODEL_JSON_H

#include "ui.h"

/* A state of station and display out of a JSON file, under the bus's own names:
 * { "scale": {...}, "batch": {..., "Quantities": {...}}, "reading": {...},
 *   "systems": [...], "records": [...], "open": [...], "record": {...},
 *   "curve": [[s, g], ...], "link": "up",
 *   "ui": { "screen", "theme", "hand", "amount_g", "system", "page", "notice", "wipe" } }
 * What is missing is unknown. 0; -errno or -EINVAL with a sentence. */
int model_json_read(const char *path, struct model *model, struct ui *ui, char *ret_sentence,
                    size_t size);

#endif
