/* SPDX-License-Identifier: MIT */
#include "commit.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

void commit_init(struct commit *commit, const struct guide *guide)
{
	memset(commit, 0, sizeof(*commit));
	commit->committed = *guide;
	commit->live = *guide;
}

static bool flows(const struct guide_event *event)
{
	return event->kind == GUIDE_READING || event->kind == GUIDE_TICK;
}

static int enqueue(struct commit *commit, const struct guide_event *event)
{
	const uint32_t room =
	        flows(event) ? COMMIT_QUEUE_MAX - COMMIT_QUEUE_RESERVE : COMMIT_QUEUE_MAX;

	if (flows(event))
		guide_next(&commit->live, event, &commit->live);
	if (commit->fill >= room) {
		commit->dropped += flows(event);
		return -ENOBUFS;
	}
	commit->queue[(commit->first + commit->fill) % COMMIT_QUEUE_MAX] = *event;
	commit->fill++;
	return -EAGAIN;
}

int commit_feed(struct commit *commit, const struct guide_event *event)
{
	struct guide next;

	if (commit->waiting)
		return enqueue(commit, event);
	guide_next(&commit->committed, event, &next);
	if (!guide_differs(&commit->committed, &next)) {
		commit->committed = next;
		return 0;
	}
	commit->pending = next;
	commit->live = commit->committed;
	commit->waiting = true;
	return 1;
}

void commit_take_off(struct commit *commit, double mass_g)
{
	commit->pending = commit->committed;
	(void)guide_take_off(&commit->pending, mass_g);
	commit->live = commit->committed;
	commit->waiting = true;
}

/* Feeds what queued, up to the next change that must be stored. */
static int drain(struct commit *commit)
{
	while (commit->fill > 0) {
		const struct guide_event event = commit->queue[commit->first];

		commit->first = (commit->first + 1) % COMMIT_QUEUE_MAX;
		commit->fill--;
		if (commit_feed(commit, &event) == 1)
			return 1;
	}
	return 0;
}

int commit_done(struct commit *commit, int result, const char *reason, int64_t t_us)
{
	struct guide_event failed = {.kind = GUIDE_STORE_FAILED, .t_us = t_us};

	commit->waiting = false;
	if (result >= 0) {
		commit->committed = commit->pending;
		return drain(commit);
	}
	commit->fill = 0;
	snprintf(failed.text, sizeof(failed.text), "%.*s", (int)sizeof(failed.text) - 1, reason);
	/* Not stored: the store has just failed. What leaves held is stored again. */
	guide_next(&commit->committed, &failed, &commit->committed);
	return 0;
}

void commit_look(const struct commit *commit, struct guide_view *ret)
{
	struct guide_view live;

	guide_look(&commit->committed, ret);
	if (!commit->waiting)
		return;
	guide_look(&commit->live, &live);
	if (live.step != ret->step || live.charge != ret->charge)
		return; /* that charge's masses belong to a step not yet told */
	live.message = ret->message;
	live.verdict = ret->verdict;
	live.provisional = ret->provisional;
	live.press = ret->press;
	*ret = live;
}
