/* SPDX-License-Identifier: MIT */
#include "gpio_refuse.h"

#include <errno.h>
#include <glob.h>
#include <grp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>

#include "gpio_lines.h"

/* The group that may open the chips here: Debian's is "gpio" where a board's own rules
 * make one, else whatever group the first chip's file has. */
static void device_group(char *ret, size_t size)
{
	struct stat status;
	const struct group *group = NULL;
	glob_t found;

	snprintf(ret, size, "gpio");
	if (glob("/dev/gpiochip*", 0, NULL, &found) != 0)
		return;
	if (stat(found.gl_pathv[0], &status) == 0)
		group = getgrgid(status.st_gid);
	/* root's own group is no advice: then a rule for udev must make one. */
	if (group != NULL && status.st_gid != 0)
		snprintf(ret, size, "%s", group->gr_name);
	globfree(&found);
}

static void list_chips(char *ret, size_t size)
{
	size_t used = 0;
	glob_t found;

	snprintf(ret, size, "this machine has none");
	if (glob("/dev/gpiochip*", 0, NULL, &found) != 0)
		return;
	for (size_t i = 0; i < found.gl_pathc && used + 24 < size; i++)
		used += (size_t)snprintf(ret + used, size - used, "%s%.20s", i == 0 ? "" : ", ",
		                         found.gl_pathv[i]);
	globfree(&found);
}

int gpio_refuse_chip(const char *chip, int error, char *message)
{
	char chips[160], group[64];

	list_chips(chips, sizeof(chips));
	device_group(group, sizeof(group));
	if (error == EACCES || error == EPERM)
		snprintf(message, GPIO_MESSAGE_MAX,
		         "chip '%.80s' may not be opened (%s): add the user that runs Ambo to the "
		         "group '%s', and where a service runs it, allow it the device",
		         chip, strerror(error), group);
	else if (error == ENOENT || error == ENODEV || error == ENXIO)
		snprintf(message, GPIO_MESSAGE_MAX,
		         "chip '%.80s' is not there; expected a path, a name or a label of one of: "
		         "%s (gpiodetect lists them)",
		         chip, chips);
	else if (error == ENOTTY || error == EINVAL)
		snprintf(message, GPIO_MESSAGE_MAX,
		         "chip '%.80s' is no GPIO chip (%s); expected one of: %s", chip,
		         strerror(error), chips);
	else
		snprintf(message, GPIO_MESSAGE_MAX,
		         "chip '%.80s' cannot be opened (%s); expected one of: %s", chip,
		         strerror(error), chips);
	return -error;
}

int gpio_refuse_line(const char *chip, const char *line, int error, const char *user, char *message)
{
	if (error == EBUSY)
		snprintf(message, GPIO_MESSAGE_MAX,
		         "line '%.60s' of chip '%.80s' is in use%s%.60s: end that program or "
		         "driver, "
		         "or choose another line (gpioinfo lists them)",
		         line, chip, user != NULL && user[0] != '\0' ? " by " : "",
		         user != NULL ? user : "");
	else if (error == ENOENT || error == EINVAL)
		snprintf(message, GPIO_MESSAGE_MAX,
		         "line '%.60s' is not on chip '%.80s'; expected an offset or a name that "
		         "gpioinfo lists",
		         line, chip);
	else
		snprintf(message, GPIO_MESSAGE_MAX,
		         "line '%.60s' of chip '%.80s' cannot be had (%s)", line, chip,
		         strerror(error));
	return -error;
}

int gpio_line_offset(const char *line, unsigned *ret)
{
	if (line[0] == '\0' || strlen(line) > 5 || line[strspn(line, "0123456789")] != '\0')
		return -EINVAL;
	*ret = (unsigned)strtoul(line, NULL, 10);
	return 0;
}
