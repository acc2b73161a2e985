/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TERMINAL_PLAN_PRINT_H
#define AMBO_TERMINAL_PLAN_PRINT_H

#include "plan_load.h"

/* A plan in words, and as one JSON object; the keys are told in ambo(1). */
void plan_print_person(const struct plan_case *of);
void plan_print_json(const struct plan_case *of);
/* A refusal as an object: {"refused": sentence, "runaway": bool}. */
void plan_print_refused_json(const struct plan_case *of);

#endif
