/* SPDX-License-Identifier: MIT */
#include "tests/support/modbus_peer.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define LINES_MAX 32u
#define PATH_SIZE 96u
#define UP_MS     20000

struct modbus_peer {
	char *folder;
	char near[LINES_MAX][PATH_SIZE], far[LINES_MAX][PATH_SIZE];
	size_t n_lines;
	pid_t pid[LINES_MAX + 1]; /* a socat a line, then the unit */
	size_t n_pids;
	int port;
};

static void die(const char *what)
{
	fprintf(stderr, "modbus peer: %s\n", what);
	abort();
}

static bool runs(const char *command)
{
	char line[256];

	snprintf(line, sizeof(line), "%s >/dev/null 2>&1", command);
	return system(line) == 0;
}

const char *modbus_peer_missing(void)
{
	if (!runs("/usr/bin/python3 -c 'import pymodbus'"))
		return "python3-pymodbus";
	if (!runs("/usr/bin/python3 -c 'import serial_asyncio'"))
		return "python3-serial-asyncio";
	if (!runs("command -v socat"))
		return "socat";
	return runs("command -v mbpoll") ? NULL : "mbpoll";
}

/* A peer ends with the test, however that ends. */
static void start(struct modbus_peer *peer, char *const argv[], int output)
{
	pid_t pid = fork();

	if (pid < 0)
		die("fork");
	if (pid == 0) {
		prctl(PR_SET_PDEATHSIG, SIGTERM);
		if (output >= 0)
			dup2(output, STDOUT_FILENO);
		execvp(argv[0], argv);
		_exit(127);
	}
	peer->pid[peer->n_pids++] = pid;
}

static void start_line(struct modbus_peer *peer, size_t i)
{
	char near[PATH_SIZE + 32], far[PATH_SIZE + 32];
	char *const argv[] = {"socat", near, far, NULL};

	snprintf(peer->near[i], PATH_SIZE, "%s/line%zu", peer->folder, i);
	snprintf(peer->far[i], PATH_SIZE, "%s/unit%zu", peer->folder, i);
	snprintf(near, sizeof(near), "pty,raw,echo=0,link=%s", peer->near[i]);
	snprintf(far, sizeof(far), "pty,raw,echo=0,link=%s", peer->far[i]);
	start(peer, argv, -1);
}

static void wait_for_line(const struct modbus_peer *peer, size_t i)
{
	for (int waited = 0; waited < UP_MS; waited += 10) {
		if (access(peer->near[i], F_OK) == 0 && access(peer->far[i], F_OK) == 0)
			return;
		nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
	}
	die("socat made no pair of ports");
}

static void start_unit(struct modbus_peer *peer)
{
	char *argv[LINES_MAX + 3] = {"/usr/bin/python3", AMBO_MODBUS_UNIT};
	FILE *stream;
	int ends[2];

	for (size_t i = 0; i < peer->n_lines; i++)
		argv[2 + i] = peer->far[i];
	if (pipe(ends) < 0)
		die("pipe");
	fcntl(ends[0], F_SETFD, FD_CLOEXEC);
	start(peer, argv, ends[1]);
	close(ends[1]);
	stream = fdopen(ends[0], "r");
	if (stream == NULL || fscanf(stream, "ready %d", &peer->port) != 1)
		die("the pymodbus unit did not come up");
	fclose(stream);
}

struct modbus_peer *modbus_peer_start(size_t n_lines)
{
	struct modbus_peer *peer = calloc(1, sizeof(*peer));

	if (peer == NULL || n_lines > LINES_MAX)
		die("too many lines");
	peer->n_lines = n_lines;
	peer->folder = strdup("/tmp/ambo-modbus-XXXXXX");
	if (peer->folder == NULL || mkdtemp(peer->folder) == NULL)
		die("mkdtemp");
	for (size_t i = 0; i < n_lines; i++)
		start_line(peer, i);
	for (size_t i = 0; i < n_lines; i++)
		wait_for_line(peer, i);
	start_unit(peer);
	return peer;
}

void modbus_peer_stop(struct modbus_peer *peer)
{
	for (size_t i = peer->n_pids; i-- > 0;) {
		kill(peer->pid[i], SIGTERM);
		waitpid(peer->pid[i], NULL, 0);
	}
	for (size_t i = 0; i < peer->n_lines; i++) {
		unlink(peer->near[i]);
		unlink(peer->far[i]);
	}
	rmdir(peer->folder);
	free(peer->folder);
	free(peer);
}

const char *modbus_peer_folder(const struct modbus_peer *peer)
{
	return peer->folder;
}

int modbus_peer_port(const struct modbus_peer *peer)
{
	return peer->port;
}

const char *modbus_peer_line(const struct modbus_peer *peer, size_t i)
{
	return peer->near[i];
}

int modbus_peer_mbpoll(const char *arguments, char *ret_output, size_t size)
{
	char line[512];
	FILE *stream;
	size_t n;

	snprintf(line, sizeof(line), "timeout 20 mbpoll %s 2>&1", arguments);
	stream = popen(line, "r");
	if (stream == NULL)
		die("mbpoll");
	n = fread(ret_output, 1, size - 1, stream);
	ret_output[n] = '\0';
	return pclose(stream);
}
