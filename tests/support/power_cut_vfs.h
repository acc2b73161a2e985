/* SPDX-License-Identifier: MIT */
#ifndef AMBO_TESTS_SUPPORT_POWER_CUT_VFS_H
#define AMBO_TESTS_SUPPORT_POWER_CUT_VFS_H

#include <stdint.h>

/* A disk that loses its power: an SQLite VFS over the ordinary one, which knows of
 * each file what was synced and which writes came after. From the cut on every
 * change fails. What survives it is the synced bytes and, of each 512-byte sector
 * written since, by a fair coin the new or the old content: writes reordered, lost and
 * torn, as a disk may. */

/* Becomes SQLite's default. Once a process. */
void power_cut_install(void);

/* The power goes at the n-th write, truncation or sync from now; the coins come from
 * seed. Forgets all files: their bytes on the disk now count as synced. */
void power_cut_arm(uint64_t n_operations, uint32_t seed);
/* How many operations there have been since it was armed. */
uint64_t power_cut_operations(void);
int power_cut_happened(void);

/* Overwrites the files on the disk with what survived and lets the power back on.
 * Close the store first. */
void power_cut_restore(void);

#endif
