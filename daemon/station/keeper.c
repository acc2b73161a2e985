/* SPDX-License-Identifier: MIT */
#include "keeper.h"

#include <errno.h>
#include <grp.h>
#include <pwd.h>
#include <stdlib.h>
#include <unistd.h>

#define GROUPS_MAX 65536
#define NAMES_MAX  16384u

/* The group's number; -ENOENT where there is no such group. */
static int group_id(const char *name, gid_t *ret)
{
	char names[NAMES_MAX];
	struct group group, *found = NULL;
	int r = getgrnam_r(name, &group, names, sizeof(names), &found);

	if (found == NULL)
		return r != 0 ? -r : -ENOENT;
	*ret = group.gr_gid;
	return 0;
}

/* As the system has it now, not as it was when the sender logged in. */
static int user_in_group(uid_t uid, gid_t wanted)
{
	char names[NAMES_MAX];
	struct passwd user, *found = NULL;
	gid_t *groups;
	int n = 64, r = getpwuid_r(uid, &user, names, sizeof(names), &found);

	if (found == NULL)
		return -r;
	for (;;) {
		const int room = n;

		groups = calloc((size_t)room, sizeof(*groups));
		if (groups == NULL)
			return -ENOMEM;
		if (getgrouplist(user.pw_name, user.pw_gid, groups, &n) >= 0)
			break;
		free(groups);
		if (n <= room || n > GROUPS_MAX)
			return -E2BIG;
	}
	r = 0;
	for (int i = 0; i < n && r == 0; i++)
		r = groups[i] == wanted;
	free(groups);
	return r;
}

int keeper_may(sd_bus_message *message, bool system_bus)
{
	sd_bus_creds *creds = NULL;
	gid_t group;
	uid_t uid;
	int r;

	r = sd_bus_query_sender_creds(message, SD_BUS_CREDS_EUID, &creds);
	if (r >= 0)
		r = sd_bus_creds_get_euid(creds, &uid);
	sd_bus_creds_unref(creds);
	if (r < 0)
		return r;
	if (uid == 0 || (!system_bus && uid == geteuid()))
		return 1;
	r = group_id(KEEPER_GROUP, &group);
	return r == -ENOENT ? 0 : r < 0 ? r : user_in_group(uid, group);
}
