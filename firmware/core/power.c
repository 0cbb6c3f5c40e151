/* SPDX-License-Identifier: MIT */
/* What runs here may take its time: small rather than fast. */
#pragma GCC optimize ("Os")
#include "core/power.h"

#include "core/lines.h"
#include "core/sense.h"
#include "gen/wiring.h"
#include "hal/clock.h"
#include "hal/device.h"
#include "hal/ports.h"

#define BIT(number) ((uint8_t)(1U << (number)))
#define STILL HAL_TICKS(2UL * WIRING_DEAD_MAN_MS * 1000UL)  /* without a pump OE_N is surely high after this */
#define PUMPED HAL_TICKS(20000)                    /* with it, surely low after this */
#define HELD_LOOK HAL_TICKS(200)                   /* a discharging position is low after this */

enum dead_man { TEST_STILL, TEST_PUMPED, HOLDS, LETS_GO, HELD_STILL };
enum discharge { QUIET, FALLING, LOW };

static struct {
    uint16_t faults;
    uint8_t dead_man;
    uint32_t dead_man_since;
    uint8_t discharge;
    uint32_t discharge_since;
    bool pump_level;
} power;

static void output(uint8_t port, uint8_t bit, bool level)
{
    hal_port_out(port, BIT(bit), level ? 0xFF : 0);
    hal_port_ddr(port, BIT(bit), BIT(bit));
}

bool power_registers_enabled(void)
{
    return !(hal_port_get(WIRING_OE_N_PORT) & BIT(WIRING_OE_N_BIT));
}

bool power_is_on(void)
{
    return sense_supply_on();
}

uint16_t power_faults(void)
{
    return power.faults;
}

void power_fault(uint16_t fault)
{
    power.faults |= fault;
}

void power_forgive(uint16_t fault)
{
    power.faults &= (uint16_t)~fault;
}

bool power_settled(void)
{
    return power.dead_man >= HOLDS && power.discharge == QUIET;
}

static void everything_off(void)
{
    lines_all_off();
    (void)sense_switches(0, 0, 0);
    sense_off();
    hal_pwm(0);
    lines_verified_forget();
}

void power_start(void)
{
    uint32_t now = hal_ticks();
    power.faults = 0;
    power.dead_man = TEST_STILL;
    power.dead_man_since = now;
    power.discharge = QUIET;
    power.pump_level = false;
    output(WIRING_PUMP_PORT, WIRING_PUMP_BIT, false);
    output(WIRING_LAMP_PORT, WIRING_LAMP_BIT, false);
    hal_port_ddr(WIRING_OE_N_PORT, BIT(WIRING_OE_N_BIT), 0);
    lines_start();
    sense_start();
}

static void dead_man_is(uint8_t state, uint32_t now)
{
    power.dead_man = state;
    power.dead_man_since = now;
}

static void pump_is(bool high)
{
    power.pump_level = high;
    output(WIRING_PUMP_PORT, WIRING_PUMP_BIT, high);
}

void power_pump_hold(bool high)
{
    power.dead_man = HELD_STILL;
    pump_is(high);
}

void power_pump_on(void)
{
    if (power.dead_man == HELD_STILL)
        dead_man_is(LETS_GO, hal_ticks());
}

void power_off(void)
{
    everything_off();
    lines_discharge();
    power_pump_on();
    power.discharge = FALLING;
    power.discharge_since = hal_ticks();
    output(WIRING_LAMP_PORT, WIRING_LAMP_BIT, false);
}

void power_clear_faults(void)
{
    uint16_t stay = 0;
    if ((power.faults & FAULT_REGISTERS) && !sense_chain_good())
        stay |= FAULT_REGISTERS;
    if ((power.faults & FAULT_DEAD_MAN) && !power_registers_enabled())
        stay |= FAULT_DEAD_MAN;
    power.faults &= stay;
}

/* ------------------------------------------------------------ turn by turn */

static void pump(void)
{
    if (power.dead_man == TEST_STILL || power.dead_man == HELD_STILL)
        return;
    pump_is(!power.pump_level);
}

/* True if power was lost behind the firmware's back. */
static bool dead_man_turn(uint32_t now)
{
    bool enabled = power_registers_enabled();
    uint32_t since = power.dead_man_since;
    switch (power.dead_man) {
    case TEST_STILL:
        if (!hal_passed(now, since, STILL))
            break;
        if (enabled)
            power_fault(FAULT_DEAD_MAN);
        dead_man_is(TEST_PUMPED, now);
        break;
    case TEST_PUMPED:
    case LETS_GO:
        if (enabled)
            dead_man_is(HOLDS, now);
        else if (hal_passed(now, since, PUMPED)) {
            power_fault(FAULT_DEAD_MAN);
            if (power.dead_man == TEST_PUMPED)
                dead_man_is(LETS_GO, now);
        }
        break;
    case HELD_STILL:
        break;
    default:
        if (enabled)
            break;
        dead_man_is(LETS_GO, now);
        return power_is_on();
    }
    return false;
}

/* True if a position stays high. */
static bool discharge_turn(uint32_t now, uint8_t *position)
{
    uint32_t since = power.discharge_since;
    if (power.discharge == FALLING && hal_passed(now, since, HELD_LOOK)) {
        *position = lines_discharge_held();
        if (*position)
            return true;
        power.discharge = LOW;
    }
    if (power.discharge == LOW && hal_passed(now, since, HAL_TICKS(WIRING_DISCHARGE_MS * 1000UL))) {
        lines_all_off();
        power.discharge = QUIET;
    }
    return false;
}

static bool broken(struct msg_event *event, uint16_t fault, uint8_t kind, uint8_t position, uint16_t value)
{
    power_fault(fault);
    event->kind = kind;
    event->position = position;
    event->value = value;
    return true;
}

bool power_turn(uint32_t now, struct msg_event *event, void (*between)(void))
{
    uint8_t position;
    /* Looked at before it is pumped: one edge more could hide that it had let go. */
    bool lost = dead_man_turn(now);
    if (lost)
        power_off();
    pump();
    if (lost)
        return broken(event, FAULT_OVER_CURRENT, EVENT_OVER_CURRENT, 0, WIRING_TRIP_ICC_CODE);
    if (power.discharge != QUIET) {
        if (discharge_turn(now, &position))
            return broken(event, FAULT_CONTENTION, EVENT_CONTENTION, position, 0);
        return false;
    }
    position = lines_watch(between);
    if (position) {
        power_off();
        return broken(event, FAULT_CONTENTION, EVENT_CONTENTION, position, 0);
    }
    if (sense_chain_failed() && !(power.faults & FAULT_REGISTERS)) {
        power_off();
        return broken(event, FAULT_REGISTERS, EVENT_POWER_REFUSED, 0, power.faults | FAULT_REGISTERS);
    }
    return false;
}
