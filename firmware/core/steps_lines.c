/* SPDX-License-Identifier: MIT */
/* Steps that set lines and node K. */
#include "core/lines.h"
#include "core/sense.h"
#include "core/steps.h"
#include "hal/adc.h"
#include "hal/clock.h"

#define PULSES_A_TURN 20      /* some 200 us */
#define PLAN_US 70           /* hal_work(), as the image takes: all lines, */
#define PLAN_LEVELS_US 35     /* levels of some, */
#define PLAN_PIN_US 40        /* one position, */
#define COMMIT_US 14          /* carrying it out */

static enum step_answer refuse(uint8_t answer, uint8_t where)
{
    if (answer == LINES_NOT_VERIFIED)
        step_event(EVENT_NOT_VERIFIED, where, 0);
    else
        step_event(EVENT_OVER_BUDGET, 0, where);
    return GO_FAULT;
}

/* The three steps that set lines plan while the last sample is still to be taken, and
 * carry out in phase 1 once it is held.  If pins of a port would switch that belongs
 * to the converter, they wait for the end of the conversion too; but not for readings
 * of one conversion: those are for logic levels, which need no last bit, and there
 * the time counts. */
static enum step_answer commit(const struct step_run *run)
{
    if (run->refused != LINES_OK)
        return hal_adc_idle() ? refuse(run->refused, run->position) : GO_STAY;
    if (!step_let_go() || !hal_adc_sampled()) {
        step_until(hal_adc_sampled);
        return GO_STAY;
    }
    if ((lines_planned_ports() & HAL_ADC_PORTS) && step_measures() && !hal_adc_still()) {
        step_until(hal_adc_still);
        return GO_STAY;
    }
    lines_commit();
    hal_work(COMMIT_US);
    return GO_DONE;
}

enum step_answer step_do_drive(struct step_run *run)
{
    if (run->phase == 1)
        return commit(run);
    hal_work(PLAN_US);
    run->refused = lines_plan(&run->with.drive, &run->position);
    return GO_ON;
}

enum step_answer step_do_levels(struct step_run *run)
{
    if (run->phase == 1)
        return commit(run);
    hal_work(PLAN_LEVELS_US);
    run->refused = lines_plan_levels(&run->with.levels.high, &run->position);
    return GO_ON;
}

enum step_answer step_do_pin(struct step_run *run)
{
    const struct step_pin *pin = &run->with.pin;
    if (run->phase == 1)
        return commit(run);
    hal_work(PLAN_PIN_US);
    run->refused = lines_plan_pin(pin->position, pin->lines, pin->high != 0, &run->position);
    return GO_ON;
}

enum step_answer step_do_pulse(struct step_run *run)
{
    const struct step_pulse *pulse = &run->with.pulse;
    if (run->phase == 0) {
        if (!lines_drive(pulse->position))
            return GO_BAD;
        run->rest = pulse->count;
        return GO_ON;
    }
    uint8_t some = (uint8_t)(run->rest < PULSES_A_TURN ? run->rest : PULSES_A_TURN);
    lines_pulse(pulse->position, some);
    run->rest = (uint16_t)(run->rest - some);
    return run->rest ? GO_STAY : GO_DONE;
}

enum step_answer step_do_idle(struct step_run *run)
{
    (void)run;
    lines_all_off();
    sense_off();
    return GO_DONE;
}

enum step_answer step_do_sense(struct step_run *run)
{
    const struct step_sense *to = &run->with.sense;
    if (run->phase == 1)
        return GO_DONE;
    if (!sense_set(to->position, to->load, to->ld)) {
        if (!hal_adc_idle())
            return GO_STAY;
        step_event(EVENT_OVER_BUDGET, to->position, 0);
        return GO_FAULT;
    }
    step_wait(sense_settle_us());
    return GO_ON;
}
