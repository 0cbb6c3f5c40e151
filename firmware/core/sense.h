/* SPDX-License-Identifier: MIT */
/* Everything behind the shift registers: what node K is tied to, the load
 * selector with its LD line, and the power switches. */
#ifndef CORE_SENSE_H
#define CORE_SENSE_H
#include <stdbool.h>
#include <stdint.h>

#include "gen/protocol.h"
#include "gen/wiring.h"

/* Ports as inputs or outputs, K tied to nothing, switches off. */
void sense_start(void);

/* K tied to a position (0: none), the load selector to a channel, LD to an enum
 * line_level.  The old tie is let go before the new one is made.
 * False, and nothing changed, if LD would be over its port group's budget. */
bool sense_set(uint8_t position, uint8_t load, uint8_t ld);

/* K to another position; load and LD stay. */
void sense_position(uint8_t position);

/* K and the load selector to nothing, LD off. */
void sense_off(void);

/* Microseconds that K needs after a change, with the load that is on. */
uint16_t sense_settle_us(void);

/* Switches by position, 0: none.  False if one of them does not exist; then nothing changes. */
bool sense_switches(uint8_t supply, uint8_t supply_2, uint8_t ground);
bool sense_supply_on(void);

/* Shift twice and look whether the chain returns what was shifted. */
bool sense_chain_good(void);

/* What comes back of a pattern that is shifted through the chain; no output changes.  Bits 0..7
 * went through the register nearest to the controller. */
uint32_t sense_chain_pattern(uint32_t pattern);

/* True once after any shift that did not return what the one before had put in. */
bool sense_chain_failed(void);

#endif
