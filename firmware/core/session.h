/* SPDX-License-Identifier: MIT */
/* The device as the host sees it: hello, halt, state, silence, lease, the order of messages. */
#ifndef CORE_SESSION_H
#define CORE_SESSION_H
#include <stdbool.h>
#include <stdint.h>

#define FIRMWARE_VERSION 0x0001U      /* major * 256 + minor */

/* Everything off, no session. */
void session_start(void);

/* One turn of everything. */
void session_turn(void);

/* Nothing to do until something comes: the main loop may sleep. */
bool session_quiet(void);

#endif
