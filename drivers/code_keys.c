/* SPDX-License-Identifier: MIT */
#include "code_keys.h"

#include <linux/input-event-codes.h>
#include <string.h>

#define KEYS_MAX 128u

/* Unshifted, shifted. */
static const char characters[KEYS_MAX][2] = {
        [KEY_1] = "1!",          [KEY_2] = "2@",           [KEY_3] = "3#",
        [KEY_4] = "4$",          [KEY_5] = "5%",           [KEY_6] = "6^",
        [KEY_7] = "7&",          [KEY_8] = "8*",           [KEY_9] = "9(",
        [KEY_0] = "0)",          [KEY_MINUS] = "-_",       [KEY_EQUAL] = "=+",
        [KEY_Q] = "qQ",          [KEY_W] = "wW",           [KEY_E] = "eE",
        [KEY_R] = "rR",          [KEY_T] = "tT",           [KEY_Y] = "yY",
        [KEY_U] = "uU",          [KEY_I] = "iI",           [KEY_O] = "oO",
        [KEY_P] = "pP",          [KEY_LEFTBRACE] = "[{",   [KEY_RIGHTBRACE] = "]}",
        [KEY_A] = "aA",          [KEY_S] = "sS",           [KEY_D] = "dD",
        [KEY_F] = "fF",          [KEY_G] = "gG",           [KEY_H] = "hH",
        [KEY_J] = "jJ",          [KEY_K] = "kK",           [KEY_L] = "lL",
        [KEY_SEMICOLON] = ";:",  [KEY_APOSTROPHE] = "'\"", [KEY_GRAVE] = "`~",
        [KEY_BACKSLASH] = "\\|", [KEY_Z] = "zZ",           [KEY_X] = "xX",
        [KEY_C] = "cC",          [KEY_V] = "vV",           [KEY_B] = "bB",
        [KEY_N] = "nN",          [KEY_M] = "mM",           [KEY_COMMA] = ",<",
        [KEY_DOT] = ".>",        [KEY_SLASH] = "/?",       [KEY_SPACE] = "  ",
        [KEY_KP1] = "11",        [KEY_KP2] = "22",         [KEY_KP3] = "33",
        [KEY_KP4] = "44",        [KEY_KP5] = "55",         [KEY_KP6] = "66",
        [KEY_KP7] = "77",        [KEY_KP8] = "88",         [KEY_KP9] = "99",
        [KEY_KP0] = "00",        [KEY_KPMINUS] = "--",     [KEY_KPDOT] = "..",
};

void code_keys_clear(struct code_keys *keys)
{
	memset(keys, 0, sizeof(*keys));
}

static int end_code(struct code_keys *keys, char *ret)
{
	const bool whole = !keys->spoilt && keys->length > 0;

	if (whole) {
		memcpy(ret, keys->text, keys->length);
		ret[keys->length] = '\0';
	}
	keys->length = 0;
	keys->spoilt = false;
	return whole;
}

int code_keys_feed(struct code_keys *keys, unsigned type, unsigned code, int value, int64_t t_us,
                   char *ret)
{
	if (type == EV_SYN && code == SYN_DROPPED)
		keys->spoilt = true; /* the kernel lost events: this code is not whole */
	if (type != EV_KEY)
		return 0;
	if (code == KEY_LEFTSHIFT || code == KEY_RIGHTSHIFT) {
		keys->shift = value != 0;
		return 0;
	}
	if (value != 1) /* let go, or repeating while held: no new key */
		return 0;
	if (keys->length > 0 && t_us - keys->last_us > CODE_KEYS_PAUSE_US) {
		keys->length = 0; /* the rest of something else */
		keys->spoilt = false;
	}
	keys->last_us = t_us;
	if (code == KEY_ENTER || code == KEY_KPENTER || code == KEY_TAB)
		return end_code(keys, ret);
	if (code >= KEYS_MAX || characters[code][0] == '\0' || keys->length == CODE_KEYS_MAX) {
		keys->spoilt = true;
		return 0;
	}
	keys->text[keys->length++] = characters[code][keys->shift];
	return 0;
}
