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

#endif
