/* SPDX-License-Identifier: MIT */
/* What `load` and `load_scan` have in common (steps_measure.c). */
#ifndef CORE_LOADING_H
#define CORE_LOADING_H
#include <stdbool.h>
#include <stdint.h>

#include "gen/protocol.h"

/* Does a loaded position stand at the very rail that it would be shorted to? */
bool load_shorted(const struct step_load *load, uint16_t code);

/* What a series under a load (`repeats` conversions) gives: a reading, or the event `short` and none. */
void load_give(const struct step_load *load, uint16_t sum);

/* The level of LD that goes with this load; LINE_OFF if its channel has no LD. */
uint8_t load_level(const struct step_load *load);

/* How long the load must stand before the first sample. */
uint16_t load_settle_us(const struct step_load *load);

/* The load is let go; with the selector open K may stay where it is. */
void load_off(const struct step_load *load);

#endif
