/* SPDX-License-Identifier: MIT */
/* The chain of three shift registers. */
#ifndef HAL_REGISTERS_H
#define HAL_REGISTERS_H
#include <stdint.h>

#define HAL_CHAIN 3

/* Shift bytes[0] first (it ends in the register farthest away), bit 7 of each
 * first; back[] is what fell out of the far end meanwhile: the bytes of the call
 * before, in the same order.  Nothing changes at the outputs. */
void hal_shift(const uint8_t bytes[HAL_CHAIN], uint8_t back[HAL_CHAIN]);

/* What was shifted appears at the outputs. */
void hal_latch(void);

#endif
