/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_JSON_NUMBER_H
#define AMBO_TESTS_SUPPORT_JSON_NUMBER_H

/* One number out of a JSON file of test data: keys and array places with a slash
 * between, "R3_layer/1/Tmax". What is missing fails the test that asks for it. */
double json_number_at(const char *file, const char *path);

#endif
