/* SPDX-License-Identifier: MIT */
/* The 48 drive lines: what they do, what they may do, whether they succeed.
 *
 * Invariants
 *  - an S line drives only at a verified position, or at the one position that
 *    lines_load() was given;
 *  - the worst-case currents of the lines that drive low, and of those that
 *    drive high, stay within every port group's limit and the total;
 *  - a line that is off has no pull-up. */
#ifndef CORE_LINES_H
#define CORE_LINES_H
#include <stdbool.h>
#include <stdint.h>

#include "core/seldom.h"
#include "gen/protocol.h"
#include "gen/wiring.h"
#include "hal/ports.h"

#define POSITION_BIT(position) ((uint32_t)1 << ((position) - 1))

enum lines_answer { LINES_OK, LINES_NOT_VERIFIED, LINES_OVER_BUDGET };

/* All lines off, nothing verified. */
void lines_start(void);

/* Is this state allowed?  On LINES_OK it must be carried out by lines_commit(),
 * with no other plan between (lines_all_off() forgets it); `where` is the position, or the group number from 1 (0: the total). */
enum lines_answer lines_plan(const struct step_drive *to, uint8_t *where);

/* The same with other levels of what drives; *high by positions. */
enum lines_answer lines_plan_levels(const uint32_t *high, uint8_t *where);

/* The same with the lines of one position replaced. */
enum lines_answer lines_plan_pin(uint8_t position, uint8_t lines, bool high, uint8_t *where);

/* At once, and S without verification: the lines of one position, which must be off,
 * and of which there is no other one.  It is for the caller to see that S does not stand
 * against a short.  lines_unload() ends it. */
SELDOM enum lines_answer lines_load(uint8_t position, uint8_t lines, bool high, uint8_t *where);
SELDOM void lines_unload(void);

/* The same in pieces, so that the next load (or none) can be counted while the one before
 * stands: plan or none, then off (the old one), then on (the planned one).  A plan of lines_plan() made
 * between is without the load, and must not be carried out before lines_load_off(). */
enum lines_answer lines_load_plan(uint8_t position, uint8_t lines, bool high, uint8_t *where);
void lines_load_none(void);
void lines_load_off(void);
void lines_load_on(void);

/* Ports, a bit each, that lines_commit() would change. */
uint16_t lines_planned_ports(void);
void lines_commit(void);

/* At once: the lines of one position, or all, off. */
SELDOM void lines_pin_off(uint8_t position);
SELDOM void lines_all_off(void);

/* Does a line of this position drive? */
bool lines_drive(uint8_t position);

/* What drives now. */
const struct step_drive *lines_now(void);

/* LD counts too: through load selector channel `load`; false if that is over budget. */
bool lines_count_ld(uint8_t load, uint8_t level);

/* Verified positions. */
void lines_verified_add(uint8_t position);
uint32_t lines_verified(void);
void lines_verified_forget(void);

/* Look at the strong lines: a position that does not follow, or 0.  An M line beside a strong one is let go for a moment.
 * `between` is called after each port. */
uint8_t lines_watch(void (*between)(void));

/* Every S low, to discharge an unpowered chip; then lines_discharge_held() tells
 * which position stays high (the first of them; 0: none) and lets all of them go. */
void lines_discharge(void);
uint8_t lines_discharge_held(void);

/* The driven lines of a position as outputs of an edge (input and rest are the caller's); the lines' state is to be as
 * before when the caller is done. */
void lines_edge(uint8_t position, struct hal_edge *edge);

/* Some pulses (at most 255) on the lines of a position that drive. */
void lines_pulse(uint8_t position, uint8_t count);

#endif
