/* SPDX-License-Identifier: MIT */
#include "core/executor.h"

#include "core/convert.h"
#include "core/executor_inside.h"
#include "core/link.h"
#include "core/power.h"
#include "hal/adc.h"
#include "hal/clock.h"

#define FLUSH_US 10000        /* readings do not wait longer for company, */
#define FLUSH_STARVED_US 500  /* and not so long if none is in sight */
#define PHASES_A_TURN 4
#define SHORT_WAIT_US 20
#define FETCH_US 16           /* hal_work(), as the image takes: unpacking a step, */
#define PHASE_US 9            /* a phase of it */
#define LEISURE_US 200        /* a look at the supply fits in a wait as long as this */

struct pass_state pass;

/* No step, of this pass or the one before. */
static void no_step(void)
{
    pass.run = &pass.runs[0];
    pass.stage = pass.ahead = NONE;
    pass.until = 0;
    pass.waiting = false;
    pass.code = 0;
}

void executor_start(void)
{
    pass.running = pass.finishing = false;
    no_step();
    results_start();
}

void executor_begin(uint16_t pass_id)
{
    executor_start();
    pass.running = true;
    pass.id = pass_id;
    pass.steps = pass.readings = pass.conversions = 0;
    pass.started = false;
    pass.elapsed = 0;
}

bool executor_running(void)
{
    return pass.running;
}

uint16_t executor_pass_id(void)
{
    return pass.id;
}

/* ------------------------------------------------------------------ the end */

static SELDOM void finish(uint8_t status)
{
    if (pass.started)
        pass.elapsed = (hal_ticks() - pass.started_at) / HAL_TICKS(1);
    results_flush();
    pass.status = status;
    pass.finishing = true;
    no_step();
}

static SELDOM void try_to_finish(void)
{
    if (link_space() == 0)
        return;
    struct msg_pass_done done = {pass.id, pass.status, pass.steps, pass.readings, pass.conversions, pass.elapsed};
    link_send(MSG_PASS_DONE, msg_pass_done_pack(link_compose(), &done));
    pass.running = pass.finishing = false;
}

void executor_abort(uint8_t status, const struct msg_event *why)
{
    /* Off once more would begin the discharge anew, and drive what it has let go of; for ever, while nobody takes the pass's end. */
    if (status != PASS_FAULT || !why)
        power_off();
    if (!pass.running || pass.finishing)
        return;
    convert_stop();
    results_forget();
    if (why)
        step_event(why->kind, why->position, why->value);
    finish(status);
}

/* ---------------------------------------------------------------- the steps */

bool step_wait(uint16_t us)
{
    if (us <= SHORT_WAIT_US) {
        hal_wait_us((uint8_t)us);
        return false;
    }
    pass.waiting = true;
    pass.wait_from = hal_ticks();
    pass.wait_us = us;
    return true;
}

void step_until(bool (*condition)(void))
{
    pass.until = condition;
}

static bool ready_for(uint8_t need)
{
    if (need == PLANS)
        return true;
    if (!results_let_go_wholly())
        return false;
    if (need == DRAINED)
        return pass.under_way == 0;
    return need == NOTHING || hal_adc_sampled();
}

static SELDOM void bad_step(void)
{
    struct msg_event event = {.kind = EVENT_BAD_STEP, .position = 0, .value = pass.run->code};
    executor_abort(PASS_BAD_STEP, &event);
}

/* Unpack a step of the message at the front, if there is one; its stage. */
static uint8_t unpack_next(struct step_run *run)
{
    if (!pass.code) {
        struct link_message message;
        if (!link_peek(&message) || message.id != MSG_STEPS)
            return NONE;
        pass.code = message.payload;
        pass.left = message.length;
    }
    if (pass.left == 0) {
        link_drop();
        pass.code = 0;
        return NONE;
    }
    hal_work(FETCH_US);
    run->code = pass.code[0];
    run->phase = 0;
    run->scanning = false;
    if (run->code >= STEP_COUNT || pass.left <= step_length[run->code] || !step_unpack(run, pass.code + 1))
        return BAD;
    uint8_t size = (uint8_t)(1 + step_length[run->code]);
    pass.code += size;
    pass.left = (uint8_t)(pass.left - size);
    return FETCHED;
}

static void fetch_ahead(void)
{
    pass.ahead = unpack_next(pass.run == &pass.runs[0] ? &pass.runs[1] : &pass.runs[0]);
}

/* The next step, once the device is settled.  Done once a step: waiting for its turn must cost little. */
static bool fetch_step(void)
{
    if (!power_settled() || !step_room() || !convert_settled())
        return false;
    if (!pass.ahead)
        fetch_ahead();
    if (!pass.ahead)
        return false;
    pass.run = pass.run == &pass.runs[0] ? &pass.runs[1] : &pass.runs[0];
    pass.stage = pass.ahead;
    pass.need = pass.ahead == FETCHED ? step_needs(pass.run->code) : DRAINED;
    pass.ahead = NONE;
    return true;
}

/* Nothing waits for the converter meanwhile: in a wait, or while the first lines of a pass are planned. */
static bool at_leisure(void)
{
    if (pass.run->code == STEP_DRIVE)
        return !pass.any_series;
    return pass.run->code == STEP_SETTLE && pass.run->with.settle.us >= LEISURE_US;
}

/* Before a step begins; false if it must wait for it. */
static bool looked_at_supply(void)
{
    if (!supply_watch_due(at_leisure()))
        return true;
    if (!hal_adc_free())
        return false;
    results_look();
    return pass.need != DRAINED;
}

/* Is a step under way, or can it be now? */
static bool start_step(void)
{
    if (pass.stage == NONE && !fetch_step())
        return false;
    if (pass.stage == ACTIVE)
        return true;
    if (!ready_for(pass.need))
        return false;
    if (pass.stage == FETCHED && !looked_at_supply())
        return false;
    if (!pass.started) {
        pass.started = true;
        pass.started_at = hal_ticks();
    }
    if (pass.stage == BAD) {
        bad_step();
        return false;
    }
    pass.stage = ACTIVE;
    return true;
}

static void take_answer(enum step_answer answer)
{
    switch (answer) {
    case GO_ON:
        pass.run->phase++;
        break;
    case GO_DONE:
        pass.stage = NONE;
        pass.steps++;
        break;
    case GO_FAULT:
        executor_abort(PASS_FAULT, 0);
        break;
    case GO_BAD:
        bad_step();
        break;
    default:
        break;
    }
}

/* One phase of the step under way; true if another may follow in the same turn. */
static bool one_phase(void)
{
    if (pass.stage != ACTIVE && !start_step())
        return false;
    if (pass.run->code == STEP_END) {
        pass.steps++;
        finish(PASS_COMPLETE);
        return false;
    }
    hal_work(PHASE_US);
    enum step_answer answer = step_carry_out(pass.run);
    take_answer(answer);
    return answer == GO_DONE || (answer == GO_ON && !pass.waiting);
}

static __attribute__((noinline)) void some_phases(void)
{
    for (uint8_t i = 0; i < PHASES_A_TURN && one_phase(); i++)
        ;
}

/* Asked for all the time, and mostly in vain: what shows that must come first and cost little. */
void executor_turn(uint32_t now)
{
    if (!pass.running)
        return;
    if (pass.until && pass.until()) {
        pass.until = 0;
        some_phases();
        return;
    }
    if (pass.under_way)
        results_collect();
    if (pass.let_go && pass.let_go != SELECTOR_STAYS)
        (void)step_let_go();
    if (pass.finishing) {
        try_to_finish();
        return;
    }
    if (pass.until) {
        if (!pass.ahead)
            fetch_ahead();
        return;
    }
    if (pass.waiting) {
        if (!hal_passed(now, pass.wait_from, HAL_TICKS(pass.wait_us)))
            return;
        pass.waiting = false;
    }
    if (pass.stage != FETCHED || ready_for(pass.need))
        some_phases();
}

void executor_glance(void)
{
    if (pass.stage == ACTIVE && pass.run->code == STEP_RAMP)
        step_ramp_look();
}

bool executor_urgent(void)
{
    return pass.until && hal_adc_last();
}

/* No step is under way and none has come. */
static bool starved(void)
{
    return pass.stage == NONE && !pass.ahead && !pass.code && !pass.waiting && !pass.under_way;
}

void executor_slow_turn(uint32_t now)
{
    if (!pass.running || !pass.pending || link_space() <= SPACE_FOR_STEP)
        return;
    if (hal_passed(now, pass.pending_since, starved() ? HAL_TICKS(FLUSH_STARVED_US) : HAL_TICKS(FLUSH_US)))
        results_flush();
}

bool executor_quiet(void)
{
    return !pass.running || (!pass.finishing && !pass.pending && starved());
}
