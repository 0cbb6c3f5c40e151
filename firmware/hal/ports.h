/* SPDX-License-Identifier: MIT */
/* Port pins, by register index: A B C D E F G H J K L = 0..10 (the order of
 * firmware/gen/wiring.h).  Interrupt routines never touch a port, so that the
 * read-modify-write inside these calls needs no lock. */
#ifndef HAL_PORTS_H
#define HAL_PORTS_H
#include <stdint.h>

#define HAL_PORTS 11

/* Bits of `mask` of the direction register become those of `value` (1 = output). */
void hal_port_ddr(uint8_t port, uint8_t mask, uint8_t value);

/* Bits of `mask` of the output register become those of `value`. */
void hal_port_out(uint8_t port, uint8_t mask, uint8_t value);

/* The levels at the pins, synchroniser waited for: true for what was written before the call. */
uint8_t hal_port_get(uint8_t port);

/* An edge at an output, and what answers at an input, followed at a pace that C cannot promise. */
struct hal_edge {
    uint8_t port[2], mask[2];  /* outputs that change to their other level (both, if a mask is not 0) */
    uint8_t in_port, in_mask;  /* one input, */
    uint8_t rest;              /* and its bit when nothing happens */
};

#define HAL_LOOK_CLOCKS 8      /* from one look to the next: as long as a tick of the clock */
#define HAL_LOOK_BEGIN 4       /* looks until it begins, */
#define HAL_LOOK_MOST 32       /* and until it is over: with `again` 27 us in all.  From 28 us on the receiver lost bytes now and then. */

/* Give the edge, looks begin at once, `phase` (0..HAL_LOOK_CLOCKS - 1) clocks later: at how many the input was not at
 * rest.  0: at none of the first HAL_LOOK_BEGIN; HAL_LOOK_MOST + 1: and it is not over yet.  With `again` (0, or 4..16)
 * the edge is given so many looks before, and back half way between.  No interrupts meanwhile. */
uint8_t hal_edge_look(const struct hal_edge *edge, uint8_t phase, uint8_t again);

/* The outputs change to their other level. */
void hal_edge_toggle(const struct hal_edge *edge);

#endif
