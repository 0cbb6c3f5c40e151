/* SPDX-License-Identifier: MIT */
/* Start, reset cause, painted stack, main loop. */
#include <avr/io.h>
#include <avr/wdt.h>

#include "core/session.h"
#include "hal/device.h"
#include "port_avr/port_avr.h"

#define PAINT 0xC5

extern uint8_t _end, __stack;             /* of the linker: end of static data, top of RAM */

static uint8_t reset_cause __attribute__((section(".noinit")));

void before_main(void) __attribute__((naked, used, section(".init3")));

/* A watchdog reset leaves the watchdog running at its shortest: off at once.  Nothing
 * is on the stack yet, so that all of it can be painted. */
void before_main(void)
{
    reset_cause = MCUSR;
    MCUSR = 0;
    wdt_disable();
    for (uint16_t at = (uint16_t)&_end; at <= (uint16_t)&__stack; at++)
        *(uint8_t *)at = PAINT;
}

uint8_t hal_reset_cause(void)
{
    return reset_cause;
}

uint16_t hal_stack_free(void)
{
    uint16_t unused = 0;
    for (uint16_t at = (uint16_t)&_end; at < SP && *(const uint8_t *)at == PAINT; at++)
        unused++;
    return unused;
}

int main(void)
{
    port_avr_start();
    session_start();
    for (;;) {
        session_turn();
        if (session_quiet())
            hal_idle();
    }
}
