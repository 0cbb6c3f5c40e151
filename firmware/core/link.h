/* SPDX-License-Identifier: MIT */
/* The two numbered streams and the unnumbered messages beside them
 * (protocol/spec.toml, "How the two streams work").
 *
 * Received numbered frames wait in a short queue; what has no room there is
 * not taken, and the host sends it again.  Sent ones stay in their slots until
 * they are acknowledged. */
#ifndef CORE_LINK_H
#define CORE_LINK_H
#include <stdbool.h>
#include <stdint.h>

#include "gen/protocol.h"

#define LINK_SLOTS 16         /* outgoing numbered frames kept; a power of two */

/* One received numbered message. */
struct link_message {
    uint8_t id;
    uint8_t length;
    const uint8_t *payload;
};

/* Unnumbered messages that the session answers at once. */
struct link_hooks {
    void (*hello)(uint16_t nonce);
    void (*halt)(void);
    void (*frame_came)(void);   /* any good frame of a session, for silence and lease */
};

/* Forget everything; no session. */
void link_start(const struct link_hooks *hooks);

/* Both streams anew at 0; `open`: numbered frames are taken. */
void link_open(bool open);
bool link_is_open(void);

/* Some bytes in; some bytes out. */
void link_receive(void);
void link_send_some(void);

/* What has waited long enough: acknowledgements, frames to be sent again. */
void link_slow_turn(uint32_t now);

/* Nothing is being sent, received bytes are used up. */
bool link_quiet(void);

/* Oldest received message; false if there is none.  Stays until link_drop. */
bool link_peek(struct link_message *message);
void link_drop(void);

/* Outgoing numbered messages that can still be queued. */
uint8_t link_space(void);

/* Where the next outgoing payload is composed (FRAME_PAYLOAD_MAX bytes), when
 * there is space; link_send queues it. */
uint8_t *link_compose(void);
void link_send(uint8_t id, uint8_t length);

/* Ask for the unnumbered answers; they are packed by these when they leave. */
void link_send_welcome(void);
void link_send_state(void);
uint8_t session_pack_welcome(uint8_t *to);
uint8_t session_pack_state(uint8_t *to);

/* Frames dropped as damaged since the start; stays at 65535. */
uint16_t link_damaged(void);

#endif
