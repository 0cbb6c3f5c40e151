/* SPDX-License-Identifier: MIT */
/* Time. */
#ifndef HAL_CLOCK_H
#define HAL_CLOCK_H
#include <stdbool.h>
#include <stdint.h>

/* Microseconds since some start, wraps at 2^32: compare differences. */
uint32_t hal_micros(void);

/* Have `us` passed since then?  False for a moment that is later than `now`. */
static inline bool hal_passed(uint32_t now, uint32_t since, uint32_t us)
{
    return (int32_t)(now - since) >= (int32_t)us;
}

/* Busy wait, for a few microseconds (1..20). */
void hal_wait_us(uint8_t us);

#endif
