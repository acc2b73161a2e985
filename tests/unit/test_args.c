/* SPDX-License-Identifier: MIT */
#include "tests/support/assert_close.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "display/terminal/args.h"

static char said[512]; /* the newest complaint */

void complain(const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(said, sizeof said, format, arguments);
	va_end(arguments);
}

static bool flag;
static double number;
static int64_t whole;
static const char *text;
static const char *operands[ARGS_OPERANDS_MAX];

static const struct arg table[] = {
        {"--flag", ARG_FLAG, &flag, NULL, "", 0, 0},
        {"--number", ARG_NUMBER, &number, "G", "", 0.0, 100.0},
        {"--whole", ARG_WHOLE, &whole, "N", "", 1, 10},
        {"--text", ARG_TEXT, &text, "TEXT", "", 0, 0},
};

static int parse(int n, ...)
{
	const struct args args = {"try", "", table, 4, 1};
	char *argv[16] = {(char[]){"try"}};
	va_list words;

	va_start(words, n);
	for (int i = 1; i <= n; i++)
		argv[i] = va_arg(words, char *);
	va_end(words);
	flag = false;
	number = -1.0;
	whole = -1;
	text = NULL;
	said[0] = '\0';
	return args_parse(&args, n + 1, argv, operands);
}

static void options_take_their_values_either_way(void **state)
{
	(void)state;
	assert_int_equal(parse(6, "--number", "1.5", "--whole=7", "op", "--flag", "--text=a=b"),
	                 ARGS_GO_ON);
	assert_true(flag && number == 1.5 && whole == 7);
	assert_string_equal(text, "a=b");
	assert_string_equal(operands[0], "op");
	assert_null(operands[1]);
	assert_int_equal(parse(2, "--", "--flag"), ARGS_GO_ON);
	assert_string_equal(operands[0], "--flag");
	assert_false(flag);
}

static void what_cannot_be_meant_is_refused_by_name(void **state)
{
	(void)state;
	assert_int_equal(parse(1, "--nonsense"), EXIT_USAGE);
	assert_non_null(strstr(said, "--nonsense"));
	assert_int_equal(parse(1, "--number"), EXIT_USAGE);
	assert_int_equal(parse(1, "--flag=1"), EXIT_USAGE);
	assert_int_equal(parse(2, "one", "two"), EXIT_USAGE);
	assert_non_null(strstr(said, "two"));
}

static void numbers_are_finite_whole_and_in_range(void **state)
{
	static const char *const bad[] = {"",   "x",   "1,5", "1.5x", "nan", "inf",
	                                  "-1", "101", "0x1", " 1",   "1 ",  "1e999"};

	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
		assert_int_equal(parse(2, "--number", bad[i]), EXIT_USAGE);
		assert_non_null(strstr(said, "--number"));
		assert_true(number == -1.0);
	}
	assert_int_equal(parse(2, "--whole", "1.5"), EXIT_USAGE);
	assert_int_equal(parse(2, "--whole", "99999999999999999999"), EXIT_USAGE);
	assert_int_equal(parse(2, "--whole", "0"), EXIT_USAGE);
	assert_int_equal(parse(2, "--number", "1e1"), ARGS_GO_ON);
	assert_true(number == 10.0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	        cmocka_unit_test(options_take_their_values_either_way),
	        cmocka_unit_test(what_cannot_be_meant_is_refused_by_name),
	        cmocka_unit_test(numbers_are_finite_whole_and_in_range),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
