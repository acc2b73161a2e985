/* SPDX-License-Identifier: MIT */
#define _GNU_SOURCE
#include "app.h"

#include <SDL.h>
#include <dirent.h>
#include <errno.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "painter.h"
#include "say.h"
#include "hearing.h"
#include "tell.h"
#include "touch_file.h"
#include "window.h"

/* One thread, that sleeps until the bus, the window or the time has something for it. Only
 * where the window has no descriptor is it looked at again and again. */
#define LOOK_US       8000  /* while a batch is open, */
#define REST_LOOK_US  25000 /* and else: a tap lasts 80 ms at least */
#define REST_US       1000000
#define HELD_US       5000000 /* a foot that means it */
#define HELD_LOOK_US  100000 /* a finger that is down: it may be a wet glove */
#define CALM_FRAME_US 200000 /* where less motion is wished for */
#define FRAME_US      20000 /* between two pictures of readings; all else is shown at once */
#define LANGUAGES_MAX 32

struct app {
	const struct options *options;
	struct painter *painter;
	struct window *window;
	struct bus_link *link;
	struct hearing *hearing;
	struct touch_file *touches;
	struct model model;
	struct ui ui;
	struct touch touch;
	struct scene scene;
	int64_t shown_us, arrived_us; /* the newest picture, the newest reading */
	int64_t cued_us;              /* when the cues were followed last */
	int64_t touched_us;           /* last time anybody did anything */
	int64_t foot_us, down_us; /* since when the foot, a finger is down; foot 0: up */
	struct act down_on; /* what the finger went down on, on the screen as it was then */
	char told[TELL_MAX];
	uint32_t n_shots;
	char *language[LANGUAGES_MAX + 1];
};

static volatile sig_atomic_t stopped;

static void on_signal(int number)
{
	(void)number;
	stopped = 1;
}

static int64_t now_us(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

/* To the second: what shows minutes is not drawn anew for less. */
static double wall_clock_us(void)
{
	return (double)time(NULL) * 1e6;
}

static void complain(const char *sentence)
{
	fprintf(stderr, "ambo-display: %s\n", sentence);
}

/* "en" and every folder that holds a catalogue. */
static void find_languages(struct app *app)
{
	DIR *folder = opendir(app->options->languages);
	struct dirent *entry;
	int n = 0;

	app->language[n++] = strdup("en");
	while (folder && (entry = readdir(folder)) != NULL && n < LANGUAGES_MAX) {
		char path[600];
		struct stat status;

		snprintf(path, sizeof path, "%s/%s/LC_MESSAGES/ambo.mo", app->options->languages,
		         entry->d_name);
		if (entry->d_name[0] != '.' && strlen(entry->d_name) < 16 &&
		    strcmp(entry->d_name, "en") != 0 && stat(path, &status) == 0)
			app->language[n++] = strdup(entry->d_name);
	}
	if (folder)
		closedir(folder);
	app->ui.languages = (const char *const *)app->language;
}

static void speak(struct app *app)
{
	char sentence[WINDOW_SENTENCE_MAX];

	if (say_language(app->options->languages, app->ui.settings.language, sentence,
	                 sizeof sentence) < 0) {
		complain(sentence);
		snprintf(app->ui.notice, sizeof app->ui.notice, "%.300s", sentence);
	}
}

static void settings_changed(struct app *app)
{
	char sentence[HEARING_SENTENCE_MAX];
	int r;

	window_brightness(app->window, app->ui.settings.brightness_pct);
	speak(app);
	if (hearing_speech(app->hearing, &app->ui.settings, sentence) < 0) {
		app->ui.settings.speech = false;
		say_read(sentence, app->ui.notice, sizeof app->ui.notice);
	}
	if (app->ui.settings.turn_deg != window_frame(app->window)->turn_deg)
		window_reshape(app->window, app->ui.settings.turn_deg);
	if (!app->options->settings)
		return;
	r = settings_write(app->options->settings, &app->ui.settings);
	if (r < 0)
		snprintf(app->ui.notice, sizeof app->ui.notice, "%.200s: %s",
		         app->options->settings, strerror(-r));
}

static void forget(struct app *app)
{
	int r = hearing_forget(app->hearing, app->ui.settings.person);

	snprintf(app->ui.notice, sizeof app->ui.notice, "%s",
	         r < 0 ? strerror(-r) : _("Forgotten: your stops are learnt anew."));
}

static void obey(struct app *app, struct order order)
{
	if (order.kind == ORDER_SETTINGS)
		settings_changed(app);
	else if (order.kind == ORDER_FORGET)
		forget(app);
	else
		bus_link_send(app->link, &order);
}

/* Which way along the target the finger was, as it is read. */
static double share_along(const struct app *app, struct box box, double x_mm)
{
	double share = box.w > 0.0 ? (x_mm - box.x) / box.w : 0.0;

	return app->scene.rtl ? 1.0 - share : share;
}

static void tapped(struct app *app, const struct touch_tap *tap)
{
	struct act from = app->down_on;
	struct box box;
	struct act act = scene_hit(&app->scene, tap->to_x_mm, tap->to_y_mm, &box);

	/* A touch that slid from one target to another meant neither, nor does one under
	 * which the screen has changed. */
	if (act.kind == ACT_NONE || from.kind != act.kind || from.value != act.value) {
		app->ui.wipe = false;
		return;
	}
	obey(app, ui_act(&app->ui, &app->model, act, share_along(app, box, tap->to_x_mm)));
}

static void pointer(struct app *app, bool down, int64_t id, double x, double y)
{
	int64_t t_us = now_us();
	struct touch_tap tap;
	enum touch_result result;
	double x_mm, y_mm;

	touch_convert(window_frame(app->window), x, y, &x_mm, &y_mm);
	app->touched_us = t_us;
	/* It only wakes: it went down on a dark screen, where nothing was to be touched. */
	if (down)
		app->ui.asleep = false;
	if (down)
		app->down_on = scene_hit(&app->scene, x_mm, y_mm, NULL);
	app->ui.down = down ? app->down_on : (struct act){ACT_NONE, 0};
	app->down_us = t_us;
	app->ui.down_share = 0.0;
	result = down ? touch_down(&app->touch, id, x_mm, y_mm, t_us)
	              : touch_up(&app->touch, id, x_mm, y_mm, t_us, &tap);
	if (result == TOUCH_WET)
		app->ui.wipe = true;
	else if (result == TOUCH_TAP)
		tapped(app, &tap);
}

/* A foot that stays down where a keeper's word is asked for: 0 it is up. */
static void foot(struct app *app, bool down, int64_t t_us)
{
	if (!down) {
		app->foot_us = 0;
		app->ui.held = (double)NAN;
	} else if (ui_main_act(&app->ui, &app->model).kind == ACT_APPROVE) {
		app->foot_us = t_us;
		app->ui.held = 0.0;
	} else {
		obey(app, ui_foot(&app->ui, &app->model));
	}
}

/* What is held is seen to go on. Returns true when there is another picture. */
static bool follow_held(struct app *app, int64_t t_us)
{
	if (app->foot_us > 0) {
		app->ui.held = (double)(t_us - app->foot_us) / HELD_US;
		if (app->ui.held >= 1.0) {
			foot(app, false, t_us);
			obey(app, ui_act(&app->ui, &app->model, (struct act){ACT_APPROVE, 0}, 0.0));
		}
	}
	if (app->ui.down.kind != ACT_NONE) {
		app->ui.down_share = (double)(t_us - app->down_us) / TOUCH_LONGEST_US;
		if (app->ui.down_share > 1.0 || !touch_any_down(&app->touch))
			app->ui.down = (struct act){ACT_NONE, 0};
	}
	if ((app->foot_us == 0 && app->ui.down.kind == ACT_NONE) ||
	    t_us - app->shown_us < HELD_LOOK_US)
		return false;
	return true;
}

static void key(struct app *app, const SDL_KeyboardEvent *event)
{
	SDL_Keycode code = event->keysym.sym;
	bool is_foot = code == SDLK_SPACE || code == SDLK_RETURN || code == SDLK_KP_ENTER ||
	               (code >= SDLK_F1 && code <= SDLK_F12);

	if (event->repeat)
		return;
	if (code == SDLK_q && (event->keysym.mod & KMOD_CTRL)) {
		stopped = 1;
		return;
	}
	if (!is_foot)
		return;
	app->touched_us = now_us();
	if (app->ui.asleep && event->type == SDL_KEYDOWN)
		app->ui.asleep = false;
	else
		foot(app, event->type == SDL_KEYDOWN, app->touched_us);
}

static void take(struct app *app, const SDL_Event *event)
{
	const struct touch_frame *frame = window_frame(app->window);

	switch (event->type) {
	case SDL_QUIT:
		stopped = 1;
		break;
	case SDL_FINGERDOWN:
	case SDL_FINGERUP:
		pointer(app, event->type == SDL_FINGERDOWN, event->tfinger.fingerId,
		        (double)event->tfinger.x, (double)event->tfinger.y);
		break;
	case SDL_MOUSEBUTTONDOWN:
	case SDL_MOUSEBUTTONUP:
		if (event->button.button == SDL_BUTTON_LEFT &&
		    event->button.which != SDL_TOUCH_MOUSEID)
			pointer(app, event->type == SDL_MOUSEBUTTONDOWN, -1,
			        (double)event->button.x / frame->window_width_px,
			        (double)event->button.y / frame->window_height_px);
		break;
	case SDL_KEYDOWN:
	case SDL_KEYUP:
		key(app, &event->key);
		break;
	case SDL_WINDOWEVENT:
		if (event->window.event == SDL_WINDOWEVENT_SIZE_CHANGED)
			window_reshape(app->window, app->ui.settings.turn_deg);
		else if (event->window.event == SDL_WINDOWEVENT_EXPOSED)
			window_again(app->window);
		break;
	default:
		break;
	}
}

static void tell(struct app *app)
{
	char line[TELL_MAX], path[600];

	tell_line(&app->model, &app->ui, &app->scene, window_frame(app->window), line);
	if (strcmp(line, app->told) == 0)
		return;
	memcpy(app->told, line, sizeof line);
	if (app->options->tell) {
		puts(line);
		fflush(stdout);
	}
	if (app->options->shots) {
		snprintf(path, sizeof path, "%s/%04u-%s-%s.png", app->options->shots,
		         app->n_shots++, screen_name(app->ui.screen),
		         app->model.batch.message[0] ? app->model.batch.message : "none");
		window_shot(app->window, path);
	}
}

/* Which events brought a new picture: for the stamp. */
static void show(struct app *app, uint32_t events)
{
	double width_mm, height_mm;
	uint32_t n;

	app->model.now_realtime_us = wall_clock_us();
	ui_follow(&app->ui, &app->model);
	window_size_mm(app->window, &width_mm, &height_mm);
	screens_draw(&app->model, &app->ui, width_mm, height_mm, &app->scene);
	n = window_show(app->window, &app->scene);
	if (app->options->stamp && (events & BUS_EVENT_READING))
		printf("stamp %.0f %lld %lld %u\n", app->model.reading.t_us,
		       (long long)app->arrived_us, (long long)now_us(), n);
	if (app->options->tell || app->options->shots)
		tell(app);
}

static void fall_asleep(struct app *app, int64_t t_us)
{
	double blank_us = app->ui.settings.blank_min * 60e6;

	if (blank_us > 0.0 && (double)(t_us - app->touched_us) > blank_us &&
	    !ui_batch_open(&app->model) && app->model.n_open == 0 && app->model.link == LINK_UP)
		app->ui.asleep = true;
}

/* Readings come at 80 a second and are seen at most at 50; they change nothing on
 * screens that show no mass. */
static int64_t frame_us(const struct app *app)
{
	return app->ui.settings.less_motion ? CALM_FRAME_US : FRAME_US;
}

static bool due(struct app *app, uint32_t events, int64_t t_us)
{
	if (events & ~(uint32_t)BUS_EVENT_READING)
		return true;
	return events != 0 && app->ui.screen == SCREEN_BATCH && t_us - app->shown_us >= frame_us(app);
}

static bool take_all(struct app *app)
{
	SDL_Event event;
	bool any = false;

	while (SDL_PollEvent(&event)) {
		take(app, &event);
		any = true;
	}
	return any;
}

static bool wants_readings(const struct app *app)
{
	return ui_batch_open(&app->model) || app->ui.screen == SCREEN_SCALE;
}

/* Returns true when the edge of the glass must show another thing. */
static bool follow_sound(struct app *app, bool came, int64_t t_us)
{
	bool busy = hearing_busy(app->hearing) || ui_tests_sound(&app->ui), changed;
	char sentence[HEARING_SENTENCE_MAX];

	if (!came && !(busy && t_us - app->cued_us >= HEARING_TICK_US))
		return false;
	app->cued_us = t_us;
	changed = ui_cue(&app->ui, hearing_follow(app->hearing, &app->model, &app->ui,
	                                          app->arrived_us, t_us));
	if (!hearing_note(app->hearing, sentence))
		return changed;
	complain(sentence);
	say_read(sentence, app->ui.notice, sizeof app->ui.notice);
	return true;
}

static int64_t sooner(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

/* When there is something to do even if nothing comes. */
static int64_t until_us(const struct app *app, bool unshown, int64_t t_us)
{
	int64_t until = sooner(t_us + REST_US, bus_link_until_us(app->link));

	if (app->touches)
		until = sooner(until, touch_file_until_us(app->touches));
	if (touch_any_down(&app->touch) || app->foot_us > 0)
		until = sooner(until, t_us + HELD_LOOK_US);
	if (hearing_busy(app->hearing) || ui_tests_sound(&app->ui))
		until = sooner(until, app->cued_us + HEARING_TICK_US);
	if (unshown && app->ui.screen == SCREEN_BATCH)
		until = sooner(until, app->shown_us + frame_us(app));
	if (window_fd(app->window) < 0)
		until = sooner(until, t_us + (ui_batch_open(&app->model) ? LOOK_US : REST_LOOK_US));
	return until;
}

static void rest(struct app *app, bool unshown, const sigset_t *awake)
{
	struct pollfd fds[] = {
	        {bus_link_fd(app->link), bus_link_poll_events(app->link), 0},
	        {window_fd(app->window), POLLIN, 0},
	        {app->touches ? touch_file_fd(app->touches) : -1, POLLIN, 0},
	};
	int64_t t_us = now_us(), wait_us = until_us(app, unshown, t_us) - t_us;
	struct timespec wait = {0};

	if (wait_us > 0)
		wait = (struct timespec){wait_us / 1000000, wait_us % 1000000 * 1000};
	ppoll(fds, sizeof fds / sizeof *fds, &wait, awake);
}

/* One turn: takes all that has come. Returns true when it drew: then the window may have
 * taken in events that its descriptor tells of no more. */
static bool turn(struct app *app, uint32_t *events)
{
	int64_t t_us = now_us();
	uint32_t came;
	bool changed;

	if (app->touches)
		touch_file_run(app->touches, t_us);
	changed = take_all(app);
	if (touch_tick(&app->touch, t_us) == TOUCH_WET)
		changed = app->ui.wipe = true;
	bus_link_want_readings(app->link, wants_readings(app));
	came = bus_link_process(app->link, t_us);
	if (came & BUS_EVENT_READING)
		app->arrived_us = now_us();
	*events |= came;
	changed |= follow_held(app, t_us);
	changed |= follow_sound(app, came != 0 || changed, t_us);
	if (!app->ui.asleep) {
		fall_asleep(app, t_us);
		changed = changed || app->ui.asleep;
	}
	if (!changed && !due(app, *events, t_us))
		return false;
	show(app, *events);
	app->shown_us = t_us;
	*events = 0;
	return true;
}

/* Signals come while it rests, and at no other time. */
static void loop(struct app *app)
{
	sigset_t stops, awake;
	uint32_t events = 0; /* not yet shown */

	sigemptyset(&stops);
	sigaddset(&stops, SIGINT);
	sigaddset(&stops, SIGTERM);
	sigprocmask(SIG_BLOCK, &stops, &awake);
	while (!stopped)
		if (!turn(app, &events))
			rest(app, events != 0, &awake);
}

/* What is set, with what the command line says over it. */
static void settings_for(const struct options *options, struct settings *ret)
{
	char sentence[SETTINGS_SENTENCE_MAX];

	settings_default(ret);
	if (options->settings && settings_read(options->settings, ret, sentence) < 0)
		complain(sentence);
	if (options->language)
		snprintf(ret->language, sizeof ret->language, "%s", options->language);
	if (options->theme)
		ret->theme = strcmp(options->theme, "day") == 0 ? THEME_DAY : THEME_DARK;
	if (options->hand)
		ret->hand = strcmp(options->hand, "left") == 0 ? HAND_LEFT : HAND_RIGHT;
	if (options->turn_deg >= 0)
		ret->turn_deg = options->turn_deg;
	/* Without a file nothing can be remembered: nothing is asked either. */
	if (!options->settings)
		ret->first_run_done = true;
}

static int start(struct app *app)
{
	const struct options *options = app->options;
	char sentence[WINDOW_SENTENCE_MAX];
	struct settings settings;
	struct window_wish wish = {
	        options->width_px, options->height_px, options->width_mm, options->height_mm, 0,
	        options->full};
	int r;

	settings_for(options, &settings);
	model_init(&app->model);
	ui_init(&app->ui, &settings);
	find_languages(app);
	speak(app);
	wish.turn_deg = settings.turn_deg;
	r = painter_new(&app->painter);
	if (r < 0)
		return r;
	if (*painter_font_note(app->painter))
		complain(painter_font_note(app->painter));
	r = window_new(&wish, app->painter, &app->window, sentence);
	if (r < 0) {
		complain(sentence);
		return r;
	}
	window_brightness(app->window, settings.brightness_pct);
	r = hearing_new(options->settings, &app->hearing, sentence);
	if (r < 0)
		return r;
	if (*sentence)
		complain(sentence);
	if (settings.speech && hearing_speech(app->hearing, &settings, sentence) < 0)
		complain(sentence);
	/* Without a file nothing is asked, and where there is no sound neither. */
	app->ui.ask_heard = options->settings && hearing_there(app->hearing);
	if (options->touches && (r = touch_file_open(options->touches, &app->touches)) < 0) {
		snprintf(sentence, sizeof sentence, "--touches %.200s: %s", options->touches,
		         strerror(-r));
		complain(sentence);
		return r;
	}
	return bus_link_new(options->bus, &app->model, &app->ui, &app->link);
}

int app_run(const struct options *options)
{
	struct app *app = calloc(1, sizeof *app);
	struct sigaction action = {.sa_handler = on_signal};
	int r;

	if (!app)
		return EXIT_FAILURE;
	sigaction(SIGINT, &action, NULL);
	sigaction(SIGTERM, &action, NULL);
	app->options = options;
	app->touched_us = now_us();
	r = start(app);
	if (r >= 0) {
		show(app, 0);
		loop(app);
	}
	bus_link_free(app->link);
	touch_file_close(app->touches);
	hearing_free(app->hearing);
	window_free(app->window);
	painter_free(app->painter);
	for (int i = 0; app->language[i]; i++)
		free(app->language[i]);
	free(app);
	return r < 0 ? EXIT_FAILURE : EXIT_SUCCESS;
}
