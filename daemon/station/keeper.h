/* SPDX-License-Identifier: MIT */
#ifndef AMBO_STATION_KEEPER_H
#define AMBO_STATION_KEEPER_H

#include <stdbool.h>
#include <systemd/sd-bus.h>

/* Who may change what the scale says: members of the group ambo-keeper, and root. On a
 * session bus, where there is one person, also the user whose daemon it is. */
#define KEEPER_GROUP "ambo-keeper"

/* 1: may; 0: may not; -errno: cannot be told, which is a no. Asks the bus for the
 * sender's user and the system for its groups; may block for that moment. */
int keeper_may(sd_bus_message *message, bool system_bus);

#endif
