/* SPDX-License-Identifier: MIT */
/* Steps that turn things on: power, the level drive, strong drive by `verify`. */
/* None of these is waited for by the converter: small rather than fast. */
#pragma GCC optimize ("Os")
#include "core/convert.h"
#include "core/lines.h"
#include "core/power.h"
#include "core/sense.h"
#include "core/steps.h"
#include "gen/wiring.h"
#include "hal/adc.h"
#include "hal/device.h"
#include "hal/ports.h"

#define RAIL_SETTLE_US 2000U      /* the weak load charges what hangs on the rails */
#define RAIL_CONVERSIONS 4
#define POWER_SETTLE_US 5000U     /* protocol/spec.toml, power_on */
#define ICC_CONVERSIONS 16
#define WEAK_LOAD 1               /* load selector channel of the weak load */
#define VERIFY_SETTLE_US 20U      /* a strong line against any input: 300 ohm, some 100 pF */

_Static_assert(VERIFY_SETTLE_US + 3 * WIRING_ADC_CONVERSION_US < WIRING_STRONG_UNWATCHED_US, "verify is short");

static enum step_answer power_refused(void)
{
    step_event(EVENT_POWER_REFUSED, 0, power_faults());
    return GO_FAULT;
}

static bool any_line_drives(void)
{
    const struct step_drive *now = lines_now();
    return (now->m_on | now->s_on) != 0;
}

/* May power come on at all? */
static enum step_answer power_check(const struct step_power_on *on)
{
    if (!sense_chain_good())
        power_fault(FAULT_REGISTERS);
    if (!power_registers_enabled())
        power_fault(FAULT_DEAD_MAN);
    if (power_faults() || power_is_on())
        return power_refused();
    if (!on->ground && any_line_drives())
        return power_refused();
    /* Do the switches exist?  Trying is harmless with the supply switches off again at once. */
    if (!sense_switches(0, 0, on->ground))
        return power_refused();
    sense_off();
    return GO_ON;
}

static enum step_answer rail_tie(uint8_t position)
{
    if (!sense_set(position, WEAK_LOAD, LINE_HIGH))
        return power_refused();
    step_wait(RAIL_SETTLE_US);
    return GO_ON;
}

static enum step_answer rail_judge(uint8_t position)
{
    uint16_t sum;
    if (!hal_adc_poll(&sum))
        return GO_STAY;
    sense_off();
    if (sum / RAIL_CONVERSIONS >= WIRING_RAIL_SHORT_CODE)
        return GO_ON;
    step_event(EVENT_RAIL_SHORT, position, sum / RAIL_CONVERSIONS);
    return GO_FAULT;
}

static enum step_answer power_close(const struct step_power_on *on)
{
    if (!sense_switches(on->supply, on->supply_2, on->ground))
        return power_refused();
    hal_port_out(WIRING_LAMP_PORT, (uint8_t)(1U << WIRING_LAMP_BIT), (uint8_t)(1U << WIRING_LAMP_BIT));
    step_wait(POWER_SETTLE_US);
    return GO_ON;
}

static enum step_answer icc_judge(struct step_run *run)
{
    const struct step_power_on *on = &run->with.power_on;
    if (!hal_adc_poll(&run->code_seen))
        return GO_STAY;
    uint16_t code = run->code_seen / ICC_CONVERSIONS;
    if (code > on->limit) {
        power_off();
        power_fault(FAULT_OVER_CURRENT);
        step_event(EVENT_OVER_CURRENT, on->supply, code);
        return GO_FAULT;
    }
    step_reading(run->code_seen, ICC_CONVERSIONS);
    supply_watch_start();
    if (!on->ground)
        return GO_DONE;
    (void)sense_set(on->ground, 0, LINE_OFF);
    step_wait(sense_settle_us());
    return GO_ON;
}

/* Phases of power_on.  With no ground position the rails are neither checked nor read. */
enum power_phase {
    ON_CHECK, ON_REFERENCE,
    ON_TIE, ON_READ, ON_JUDGE,
    ON_TIE_2, ON_READ_2, ON_JUDGE_2,
    ON_CLOSE, ON_ICC, ON_ICC_JUDGE,
    ON_GROUND, ON_GROUND_GOT, ON_SUPPLY, ON_SUPPLY_GOT
};

static enum step_answer power_rails(struct step_run *run)
{
    const struct step_power_on *on = &run->with.power_on;
    uint16_t code;
    switch (run->phase) {
    case ON_GROUND:
    case ON_SUPPLY:
        convert_series(SOURCE_K, 1);
        return GO_ON;
    case ON_GROUND_GOT:
        if (!hal_adc_poll(&run->code_seen))
            return GO_STAY;
        (void)sense_set(on->supply, 0, LINE_OFF);
        step_wait(sense_settle_us());
        return GO_ON;
    default:
        if (!hal_adc_poll(&code))
            return GO_STAY;
        step_rails(run->code_seen, code);
        sense_off();
        return GO_DONE;
    }
}

enum step_answer step_do_power_on(struct step_run *run)
{
    const struct step_power_on *on = &run->with.power_on;
    switch (run->phase) {
    case ON_CHECK:
        return power_check(on);
    case ON_REFERENCE:
        if (!on->ground)
            run->phase = ON_CLOSE - 1;
        else if (!convert_reference(REF_AVCC))
            return GO_STAY;
        return GO_ON;
    case ON_TIE:
        return rail_tie(on->supply);
    case ON_TIE_2:
        return rail_tie(on->supply_2);
    case ON_READ:
    case ON_READ_2:
        convert_series(SOURCE_K, RAIL_CONVERSIONS);
        return GO_ON;
    case ON_JUDGE:
        if (!on->supply_2) {
            enum step_answer answer = rail_judge(on->supply);
            if (answer == GO_ON)
                run->phase = ON_CLOSE - 1;
            return answer;
        }
        return rail_judge(on->supply);
    case ON_JUDGE_2:
        return rail_judge(on->supply_2);
    case ON_CLOSE:
        return power_close(on);
    case ON_ICC:
        convert_series(SOURCE_ICC, ICC_CONVERSIONS);
        return GO_ON;
    case ON_ICC_JUDGE:
        return icc_judge(run);
    default:
        return power_rails(run);
    }
}

enum step_answer step_do_power_off(struct step_run *run)
{
    if (run->phase == 0) {
        power_off();
        return GO_ON;
    }
    return power_settled() ? GO_DONE : GO_STAY;
}

enum step_answer step_do_ground(struct step_run *run)
{
    if (power_is_on() || !sense_switches(0, 0, run->with.ground.position))
        return GO_BAD;
    return GO_DONE;
}

enum step_answer step_do_level(struct step_run *run)
{
    hal_pwm(run->with.level.code);
    return GO_DONE;
}

/* ------------------------------------------------------------------- verify */

static enum step_answer strong_on(uint8_t position, bool high)
{
    uint8_t where = 0;
    if (lines_load(position, 2, high, &where) != LINES_OK) {
        step_event(EVENT_OVER_BUDGET, position, where);
        return GO_FAULT;
    }
    (void)step_wait(VERIFY_SETTLE_US);
    return GO_ON;
}

static enum step_answer verify_judge(struct step_run *run, uint16_t high)
{
    uint8_t position = run->with.verify.position;
    bool low_followed = run->code_seen <= WIRING_VERIFY_LOW_MAX;
    bool high_followed = high >= WIRING_VERIFY_HIGH_MIN;
    sense_off();
    if (low_followed && high_followed)
        lines_verified_add(position);
    else
        step_event(EVENT_NOT_VERIFIED, position, low_followed ? high : run->code_seen);
    step_reading(run->code_seen, 1);
    step_reading(high, 1);
    return GO_DONE;
}

enum step_answer step_do_verify(struct step_run *run)
{
    uint8_t position = run->with.verify.position;
    uint16_t high;
    switch (run->phase) {
    case 0:
        if (!power_is_on())
            return GO_BAD;
        lines_pin_off(position);
        return GO_ON;
    case 1:
        if (!convert_reference(REF_AVCC))
            return GO_STAY;
        (void)sense_set(position, 0, LINE_OFF);
        return GO_ON;
    case 2:
        return strong_on(position, false);
    case 3:
    case 6:
        convert_series(SOURCE_K, 1);
        return GO_ON;
    case 4:
        if (!hal_adc_poll(&run->code_seen))
            return GO_STAY;
        lines_unload();
        return GO_ON;
    case 5:
        return strong_on(position, true);
    default:
        if (!hal_adc_poll(&high))
            return GO_STAY;
        lines_unload();
        return verify_judge(run, high);
    }
}
