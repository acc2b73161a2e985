/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_PLAN_DRAW_H
#define AMBO_TERMINAL_PLAN_DRAW_H

#include "plan_load.h"

/* A plan as a picture: the cross-section with its layers, inclusions and what stands
 * out, to scale, and each layer's temperature and cure over time. Through Cairo. */

enum plan_draw_kind { PLAN_DRAW_SVG, PLAN_DRAW_PNG };

/* Writes path. An enum exit_status; what fails is said. */
int plan_draw(const struct plan_case *of, enum plan_draw_kind kind, const char *path);

#endif
