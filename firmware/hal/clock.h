/* SPDX-License-Identifier: MIT */
/* Time, in ticks of half a microsecond: the AVR's timer as it is, so that asking
 * costs little. */
#ifndef HAL_CLOCK_H
#define HAL_CLOCK_H
#include <stdbool.h>
#include <stdint.h>

#define HAL_TICKS(us) ((uint32_t)(us) * 2)

/* Ticks since some start, wraps at 2^32 (36 minutes): compare differences. */
uint32_t hal_ticks(void);

/* Have so many ticks passed since then?  False for a moment that is later than `now`. */
static inline bool hal_passed(uint32_t now, uint32_t since, uint32_t ticks)
{
    return (int32_t)(now - since) >= (int32_t)ticks;
}

/* The core has worked for about so many microseconds.  On the controller time passes by
 * itself and this is nothing; a port with a virtual clock moves it on, so that what the
 * converter sees comes as late after a switch there as here. */
#ifdef __AVR__
#define hal_work(us) ((void)0)
#else
void hal_work(uint8_t us);
#endif

/* Busy wait, for a few microseconds (0..20). */
void hal_wait_us(uint8_t us);

#endif
