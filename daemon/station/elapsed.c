/* SPDX-License-Identifier: MIT */
#include "elapsed.h"

#include <string.h>

void elapsed_between(const struct store_stamp *then, const struct store_stamp *now,
                     struct elapsed *ret)
{
	const int64_t wall_us = now->realtime_us - then->realtime_us;
	const bool same_boot = strcmp(then->boot_id, now->boot_id) == 0;

	if (same_boot && now->boottime_us >= then->boottime_us) {
		ret->us = now->boottime_us - then->boottime_us;
		ret->known = true;
		return;
	}
	ret->known = then->synchronised && now->synchronised && wall_us >= now->boottime_us;
	ret->us = ret->known || wall_us > now->boottime_us ? wall_us : now->boottime_us;
}
