/* SPDX-License-Identifier: MIT */
/* Time. */
#ifndef HAL_CLOCK_H
#define HAL_CLOCK_H
#include <stdint.h>

/* Microseconds since some start, wraps at 2^32: compare differences. */
uint32_t hal_micros(void);

/* Busy wait, for a few microseconds (1..20). */
void hal_wait_us(uint8_t us);

#endif
