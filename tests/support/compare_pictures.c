/* SPDX-License-Identifier: MIT */
/* compare_pictures A.png B.png [TURN [MARGIN [TOP]]]: prints which share of the pixels differs by
 * much. TURN: A lies on its window turned clockwise by so many degrees, B as it is read.
 * MARGIN: so many pixels at the edge are not looked at, TOP: so many at the top.
 * Exit 0 when both could be read and are of one size, else 2 with a sentence. */
#include <cairo.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#define MUCH 40 /* of 255, in a channel */

static cairo_surface_t *read_picture(const char *path)
{
	cairo_surface_t *surface = cairo_image_surface_create_from_png(path);

	if (cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS)
		return surface;
	fprintf(stderr, "compare_pictures: %s cannot be read as a picture\n", path);
	exit(2);
}

static uint32_t pixel(cairo_surface_t *surface, int x, int y)
{
	const unsigned char *row = cairo_image_surface_get_data(surface) +
	                           y * cairo_image_surface_get_stride(surface);

	return ((const uint32_t *)(const void *)row)[x];
}

/* Of what is read at x, y of a picture that lies turned on this surface. */
static uint32_t turned(cairo_surface_t *surface, int turn_deg, int x, int y)
{
	int w = cairo_image_surface_get_width(surface), h = cairo_image_surface_get_height(surface);

	switch (turn_deg) {
	case 90:
		return pixel(surface, w - 1 - y, x);
	case 180:
		return pixel(surface, w - 1 - x, h - 1 - y);
	case 270:
		return pixel(surface, y, h - 1 - x);
	default:
		return pixel(surface, x, y);
	}
}

static int differs(uint32_t a, uint32_t b)
{
	for (int shift = 0; shift < 24; shift += 8)
		if (abs((int)(a >> shift & 0xffu) - (int)(b >> shift & 0xffu)) > MUCH)
			return 1;
	return 0;
}

int main(int argc, char **argv)
{
	int turn_deg = argc > 3 ? atoi(argv[3]) : 0, margin = argc > 4 ? atoi(argv[4]) : 0;
	int top = argc > 5 ? atoi(argv[5]) : margin, w, h, aw, ah;
	cairo_surface_t *a, *b;
	long n = 0;

	if (argc < 3) {
		fprintf(stderr, "usage: compare_pictures A.png B.png [TURN]\n");
		return 2;
	}
	a = read_picture(argv[1]);
	b = read_picture(argv[2]);
	w = cairo_image_surface_get_width(b);
	h = cairo_image_surface_get_height(b);
	aw = cairo_image_surface_get_width(a);
	ah = cairo_image_surface_get_height(a);
	if (turn_deg % 180 == 0 ? aw != w || ah != h : aw != h || ah != w) {
		fprintf(stderr, "compare_pictures: %d x %d and %d x %d, turned by %d\n", aw, ah, w,
		        h, turn_deg);
		return 2;
	}
	for (int y = top; y < h - margin; y++)
		for (int x = margin; x < w - margin; x++)
			n += differs(turned(a, turn_deg, x, y), pixel(b, x, y));
	printf("%.6f\n", (double)n / w / h);
	cairo_surface_destroy(a);
	cairo_surface_destroy(b);
	return 0;
}
