/* SPDX-License-Identifier: MIT */
/* The converter in the wire's terms: sources and references. */
#ifndef CORE_CONVERT_H
#define CORE_CONVERT_H
#include <stdbool.h>
#include <stdint.h>

#include "core/seldom.h"
#include "gen/protocol.h"

/* Nothing converts; the reference counts as not settled. */
void convert_start(void);

/* Bring the converter to a reference: call until true.  Changing it takes
 * WIRING_AREF_SETTLE_MS and two conversions that are thrown away; all series must
 * have been fetched before. */
SELDOM bool convert_reference(uint8_t reference);
uint8_t convert_reference_now(void);

/* The reference it has is settled, after a start or a stop too: call until true. */
bool convert_settled(void);

/* Give a series, when there is room for one. */
void convert_series(uint8_t source, uint8_t repeats);

/* Conversions given and waits (as conversions) told since the last time it was forgotten; stays at its most. */
uint8_t convert_spent(void);
void convert_spent_wait(uint16_t us);
void convert_spent_forget(void);

/* Forget what is under way. */
void convert_stop(void);

#endif
