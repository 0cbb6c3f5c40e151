/* SPDX-License-Identifier: MIT */
/* Masks of positions, bit 0 = position 1, looked at in bytes: the controller shifts bit by bit. */
#ifndef CORE_POSITIONS_H
#define CORE_POSITIONS_H
#include <stdbool.h>
#include <stdint.h>

/* The next position of a mask behind this one (0: from the first); 0: none. */
uint8_t position_behind(const uint32_t *mask, uint8_t position);

bool position_in(const uint32_t *mask, uint8_t position);

#endif
