/* SPDX-License-Identifier: MIT */
/* Steps by which the fixture looks at itself. */
#pragma GCC optimize ("Os")
#include "core/lines.h"
#include "core/power.h"
#include "core/sense.h"
#include "core/steps.h"
#include "gen/wiring.h"
#include "hal/clock.h"
#include "hal/ports.h"

#define HALF 12                            /* bits that a reading takes: FFFF must stay free */
#define GIVE_UP_MS 200

_Static_assert(WIRING_POSITIONS == 2 * HALF && 8 * WIRING_REGISTERS == 2 * HALF, "two readings");

static void two_readings(uint32_t bits)
{
    step_reading((uint16_t)(bits & ((1U << HALF) - 1)), 0);
    step_reading((uint16_t)(bits >> HALF), 0);
}

enum step_answer step_do_lines_read(struct step_run *run)
{
    uint8_t pins[WIRING_PORTS];
    uint32_t bits = 0;
    (void)run;
    for (uint8_t port = 0; port < WIRING_PORTS; port++)
        pins[port] = hal_port_get(port);
    for (uint8_t position = WIRING_POSITIONS; position; position--) {
        const struct wiring_line *line = &wiring_medium[position - 1];
        bits = (bits << 1) | ((pins[line->port] & line->mask) != 0);
    }
    two_readings(bits);
    return GO_DONE;
}

enum step_answer step_do_registers(struct step_run *run)
{
    two_readings(sense_chain_pattern(run->with.registers.pattern));
    return GO_DONE;
}

static uint32_t since;

/* Until OE_N is as awaited; true when its reading has been given. */
static bool awaited(bool enabled)
{
    uint32_t ticks = hal_ticks() - since;
    if (power_registers_enabled() == enabled) {
        step_reading((uint16_t)((ticks + HAL_TICKS(500)) / HAL_TICKS(1000)), 0);
        return true;
    }
    if (ticks < HAL_TICKS(GIVE_UP_MS * 1000UL))
        return false;
    power_fault(FAULT_DEAD_MAN);
    step_reading(READING_NONE, 0);
    return true;
}

enum step_answer step_do_deadman(struct step_run *run)
{
    switch (run->phase) {
    case 0:
        if (power_is_on())
            return GO_BAD;
        power_pump_hold(run->with.deadman.high);
        since = hal_ticks();
        return GO_ON;
    case 1:
        if (!awaited(false))
            return GO_STAY;
        power_pump_on();
        since = hal_ticks();
        return GO_ON;
    default:
        return awaited(true) ? GO_DONE : GO_STAY;
    }
}
