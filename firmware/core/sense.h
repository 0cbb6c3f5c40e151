/* SPDX-License-Identifier: MIT */
/* Everything behind the shift registers: what node K is tied to, the load
 * selector with its LD line, and the power switches. */
#ifndef CORE_SENSE_H
#define CORE_SENSE_H
#include <stdbool.h>
#include <stdint.h>

#include "core/seldom.h"
#include "gen/protocol.h"
#include "gen/wiring.h"

/* Ports as inputs or outputs, K tied to nothing, switches off. */
void sense_start(void);

/* K tied to a position (0: none), the load selector to a channel, LD to an enum
 * line_level.  The old tie is let go before the new one is made; with the selector open K has been
 * at ground between.
 * False, and nothing changed, if LD would be over its port group's budget. */
SELDOM bool sense_set(uint8_t position, uint8_t load, uint8_t ld);

/* The same for a position that is driven at once, so that K need not go to ground before; quicker if the load stays. */
bool sense_moves_to(uint8_t position, uint8_t load, uint8_t ld);

/* K to another position; load and LD stay. */
void sense_position(uint8_t position);

/* What a tie will need is shifted while there is time; nothing changes yet.  Only saves time. */
void sense_ahead(uint8_t position, uint8_t load);
void sense_position_ahead(uint8_t position);

/* The load lets go: K and the load selector stay tied. */
void sense_ld_off(void);

/* K and the load selector to nothing, LD off. */
SELDOM void sense_off(void);

/* Microseconds that K needs after a change, with the load that is on. */
uint16_t sense_settle_us(void);

/* Switches by position, 0: none.  False if one of them does not exist; then nothing changes. */
SELDOM bool sense_switches(uint8_t supply, uint8_t supply_2, uint8_t ground);
bool sense_supply_on(void);

/* Shift twice and look whether the chain returns what was shifted. */
bool sense_chain_good(void);

/* What comes back of a pattern that is shifted through the chain; no output changes.  Bits 0..7
 * went through the register nearest to the controller. */
uint32_t sense_chain_pattern(uint32_t pattern);

/* True once after any shift that did not return what the one before had put in. */
bool sense_chain_failed(void);

#endif
