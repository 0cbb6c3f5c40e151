/* SPDX-License-Identifier: MIT */
/* The dead-man's pump, latched faults, and getting rid of power.
 *
 * Turning power on is a step of the executor (steps_power.c); turning it off is
 * here, because everything may ask for it at any time. */
#ifndef CORE_POWER_H
#define CORE_POWER_H
#include <stdbool.h>
#include <stdint.h>

#include "gen/protocol.h"

/* Everything off; the dead-man's self-test begins: OE_N must be high while
 * nothing pumps, low once the main loop pumps. */
void power_start(void);

/* Pump, watch OE_N and the strong lines, discharge.  True if a safety rule was
 * broken: everything is off then, the fault latched, and *event says what
 * (pass_id and reading are the caller's).  `between` is called in the midst of what takes long. */
bool power_turn(uint32_t now, struct msg_event *event, void (*between)(void));

/* Everything off at once; the discharge goes on by itself. */
void power_off(void);

/* The self-test is over and no discharge runs: a step may start. */
bool power_settled(void);

/* PUMP stands still at a level, and what OE_N does is no fault; until power_pump_on() or
 * power_off().  Unpowered only. */
void power_pump_hold(bool high);
void power_pump_on(void);

bool power_is_on(void);
bool power_registers_enabled(void);

uint16_t power_faults(void);
void power_fault(uint16_t fault);
void power_forgive(uint16_t fault);

/* Unlatch faults whose cause is gone. */
void power_clear_faults(void);

#endif
