/* SPDX-License-Identifier: MIT */
/* Worst-case currents of the controller's pins, in 0.1 mA.
 *
 * The data sheet limits the sum of all sinking and, separately, of all sourcing
 * pins of each port group (ATmega2560, DC characteristics, notes 3 and 4), and
 * the total through GND and through VCC; so each direction has its own sums. */
#ifndef CORE_BUDGET_H
#define CORE_BUDGET_H
#include <stdbool.h>
#include <stdint.h>

/* Nothing counts; nothing but LD counts. */
void budget_start(void);
void budget_lines_off(void);

/* A change: lines taken out, lines put in, then the question whether it fits.  If
 * not, the caller begins anew from budget_lines_off() with what is really on. */
void budget_take(uint8_t group, bool high, uint16_t current);
void budget_give(uint8_t group, bool high, uint16_t current);
void budget_flip(uint8_t group, bool high, uint16_t current);     /* a line changes its level */
bool budget_fits(uint8_t *group_number);   /* 1..; 0: the total */
/* The same where only this group has been given to. */
bool budget_fits_here(uint8_t group, bool high);

/* The LD line's share becomes this, if it fits; else it stays. */
bool budget_ld(uint16_t current, bool high);

/* What counts now, for tests. */
uint16_t budget_now(uint8_t group, bool high);

#endif
