/* SPDX-License-Identifier: MIT */
/* "Same again": what it means is looked up in the store; then it begins like any other. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/mixing/tint.h"
#include "station.h"

struct again_job {
	struct station *station;
	struct begin_request request;
	int result;
	begin_done *done;
	void *context;
};

/* The newest row that got as far as a mass tells. */
static void again_run(struct store *store, void *context)
{
	struct again_job *job = context;
	struct begin_request *request = &job->request;
	struct store_row row;
	int64_t next;
	int n = store_list(store, 0, &row, 1, &next);

	job->result = n == 0 ? -ENOENT : n;
	if (n <= 0)
		return;
	memcpy(request->system_id, row.system_id, sizeof(row.system_id));
	request->recipe = (struct recipe_request){.total_g = row.target_total_g, .resin_degc = NAN};
	memcpy(request->recipe.piece, row.piece, sizeof(row.piece));
	memcpy(request->recipe.layer, row.layer, sizeof(row.layer));
	if (row.tint_g > 0.0)
		request->recipe.tint_pct = tint_share_pct(row.tint_g, row.total_g);
}

static void refuse(const struct again_job *job, int result, const char *error, const char *sentence)
{
	struct begin_answer answer = {.result = result, .error = error};

	snprintf(answer.sentence, sizeof(answer.sentence), "%s", sentence);
	job->done(job->context, &answer);
}

static void again_finished(void *context)
{
	struct again_job *job = context;
	char why[160];

	if (job->result >= 0) {
		begin_batch(job->station, &job->request, job->done, job->context);
	} else if (job->result == -ENOENT) {
		refuse(job, job->result, "NoBatch", "There is no batch yet to repeat.");
	} else {
		snprintf(why, sizeof(why), "The batches cannot be read: %s.",
		         store_reason(job->result));
		refuse(job, job->result, "StoreFailed", why);
	}
	free(job);
}

void begin_again(struct station *station, begin_done *done, void *context)
{
	const struct again_job asked = {.station = station, .done = done, .context = context};
	struct again_job *job = malloc(sizeof(*job));
	int r;

	if (job == NULL) {
		refuse(&asked, -ENOMEM, "Busy", "There is no memory left: close something.");
		return;
	}
	*job = asked;
	r = store_thread_submit(station->records, again_run, again_finished, job);
	if (r >= 0)
		return;
	refuse(job, r, "Busy", "The store is too slow now: wait, then try again.");
	free(job);
}
