/* SPDX-License-Identifier: MIT */
#include "core/executor.h"

#include "core/convert.h"
#include "core/link.h"
#include "core/power.h"
#include "core/steps.h"
#include "hal/adc.h"
#include "hal/clock.h"

#define SPACE_FOR_STEP 4      /* frames that one step can make: full readings, rest, event, pass_done */
#define READINGS_MAX ((FRAME_PAYLOAD_MAX - MSG_READINGS_FIXED) / 2)
#define FLUSH_US 10000        /* readings do not wait longer for company, */
#define FLUSH_STARVED_US 500  /* and not so long if none is in sight */
#define UNDER_WAY 4           /* series under way at most (HAL: two and two results); power of two */
#define PHASES_A_TURN 4
#define SHORT_WAIT_US 20
#define FETCH_US 16           /* hal_work(), as the image takes: unpacking a step, */
#define PHASE_US 9            /* a phase of it, */
#define COLLECT_US 10         /* taking a reading */
#define LOOK 0                /* conversions of a look at the supply: it gives no reading */
#define LEISURE_US 200        /* a look fits in a wait as long as this */

_Static_assert(SPACE_FOR_STEP < LINK_SLOTS - 1, "a step must be able to start while frames are under way");

enum stage { NONE, FETCHED, BAD, ACTIVE };

static struct {
    bool running, finishing;
    uint16_t id;
    uint8_t status;
    uint32_t steps, readings, conversions;
    bool started;
    uint32_t started_at, elapsed;

    const uint8_t *code;          /* rest of the `steps` message at the front of the link's queue, or null */
    uint8_t left;                 /* its bytes */
    uint8_t stage;                /* of `run` */
    uint8_t need;
    struct step_run run;
    bool waiting;
    uint32_t wait_from;
    uint16_t wait_us;

    uint8_t pending;              /* readings composed, not yet sent */
    uint8_t *compose;             /* where the next one goes */
    uint32_t pending_since;
    uint8_t repeats[UNDER_WAY];   /* of the series under way */
    uint8_t first, under_way;
    bool measures;
} pass;

void executor_start(void)
{
    pass.running = pass.finishing = pass.waiting = false;
    pass.stage = NONE;
    pass.code = 0;
    pass.pending = 0;
    pass.under_way = 0;
}

void executor_begin(uint16_t pass_id)
{
    executor_start();
    pass.running = true;
    pass.id = pass_id;
    pass.steps = pass.readings = pass.conversions = 0;
    pass.started = false;
    pass.elapsed = 0;
    pass.first = 0;
}

bool executor_running(void)
{
    return pass.running;
}

uint16_t executor_pass_id(void)
{
    return pass.id;
}

/* ----------------------------------------------------- readings and events */

static void flush(void)
{
    if (pass.pending)
        link_send(MSG_READINGS, (uint8_t)(MSG_READINGS_FIXED + 2 * pass.pending));
    pass.pending = 0;
}

static void begin_readings(void)
{
    struct msg_readings head = {pass.id, pass.readings};
    pass.compose = link_compose() + msg_readings_pack(link_compose(), &head);
    pass.pending_since = hal_ticks();
}

void step_reading(uint16_t sum, uint8_t conversions)
{
    if (pass.pending == 0)
        begin_readings();
    wire_put_u16(pass.compose, sum);
    pass.compose += 2;
    pass.readings++;
    pass.conversions += conversions;
    if (++pass.pending == READINGS_MAX)
        flush();
}

void executor_event(uint16_t pass_id, uint8_t kind, uint8_t position, uint16_t value)
{
    flush();
    struct msg_event event = {pass_id, kind, position, value, pass.readings};
    link_send(MSG_EVENT, msg_event_pack(link_compose(), &event));
}

bool step_room(void)
{
    return link_space() >= SPACE_FOR_STEP;
}

void step_event(uint8_t kind, uint8_t position, uint16_t value)
{
    executor_event(pass.id, kind, position, value);
}

static void series_under_way(uint8_t repeats)
{
    pass.repeats[(pass.first + pass.under_way) & (UNDER_WAY - 1)] = repeats;
    pass.under_way++;
}

void step_series(uint8_t source, uint8_t repeats)
{
    series_under_way(repeats);
    pass.measures = repeats > 1;
    convert_series(source, repeats);
}

void step_for_logic(void)
{
    pass.measures = false;
}

bool step_measures(void)
{
    return pass.measures;
}

static void collect(void)
{
    uint16_t sum;
    while (pass.under_way && hal_adc_poll(&sum)) {
        hal_work(COLLECT_US);
        if (pass.repeats[pass.first] == LOOK)
            supply_watch_take(sum);
        else
            step_reading(sum, pass.repeats[pass.first]);
        pass.first = (pass.first + 1) & (UNDER_WAY - 1);
        pass.under_way--;
    }
}

/* ------------------------------------------------------------------ the end */

static void finish(uint8_t status)
{
    flush();
    if (pass.started)
        pass.elapsed = (hal_ticks() - pass.started_at) / HAL_TICKS(1);
    pass.status = status;
    pass.finishing = true;
    pass.stage = NONE;
    pass.waiting = false;
    pass.code = 0;
}

static void try_to_finish(void)
{
    if (link_space() == 0)
        return;
    struct msg_pass_done done = {pass.id, pass.status, pass.steps, pass.readings, pass.conversions, pass.elapsed};
    link_send(MSG_PASS_DONE, msg_pass_done_pack(link_compose(), &done));
    pass.running = pass.finishing = false;
}

void executor_abort(uint8_t status, const struct msg_event *why)
{
    power_off();
    if (!pass.running || pass.finishing)
        return;
    convert_stop();
    pass.under_way = 0;
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

static bool ready_for(uint8_t need)
{
    if (need == DRAINED)
        return pass.under_way == 0;
    return need == NOTHING || hal_adc_sampled();
}

static void bad_step(void)
{
    struct msg_event event = {.kind = EVENT_BAD_STEP, .position = 0, .value = pass.run.code};
    executor_abort(PASS_BAD_STEP, &event);
}

/* Unpack the next step of the message at the front, if there is one and the device is
 * settled.  Done once a step: waiting for its turn must cost little. */
static bool fetch_step(void)
{
    struct step_run *run = &pass.run;
    if (!pass.code) {
        struct link_message message;
        if (!link_peek(&message) || message.id != MSG_STEPS)
            return false;
        pass.code = message.payload;
        pass.left = message.length;
    }
    if (pass.left == 0) {
        link_drop();
        pass.code = 0;
        return false;
    }
    if (!power_settled() || link_space() < SPACE_FOR_STEP || !convert_settled())
        return false;
    hal_work(FETCH_US);
    run->code = pass.code[0];
    run->phase = 0;
    run->scanning = false;
    bool good = run->code < STEP_COUNT && pass.left > step_length[run->code] && step_unpack(run, pass.code + 1);
    pass.need = good ? step_needs(run->code) : DRAINED;
    pass.stage = good ? FETCHED : BAD;
    if (good) {
        uint8_t size = (uint8_t)(1 + step_length[run->code]);
        pass.code += size;
        pass.left = (uint8_t)(pass.left - size);
    }
    return true;
}

/* Before a step begins; false if it must wait for it. */
static bool looked_at_supply(void)
{
    bool at_leisure = pass.run.code == STEP_SETTLE && pass.run.with.settle.us >= LEISURE_US;
    if (!supply_watch_due(at_leisure))
        return true;
    if (!hal_adc_free())
        return false;
    series_under_way(LOOK);
    supply_watch_look();
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
        pass.run.phase++;
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
    if (pass.run.code == STEP_END) {
        pass.steps++;
        finish(PASS_COMPLETE);
        return false;
    }
    hal_work(PHASE_US);
    enum step_answer answer = step_carry_out(&pass.run);
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
    if (pass.under_way)
        collect();
    if (pass.finishing) {
        try_to_finish();
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

/* No step is under way and none has come. */
static bool starved(void)
{
    return pass.stage == NONE && !pass.code && !pass.waiting && !pass.under_way;
}

void executor_slow_turn(uint32_t now)
{
    if (!pass.running || !pass.pending || link_space() <= SPACE_FOR_STEP)
        return;
    if (hal_passed(now, pass.pending_since, starved() ? HAL_TICKS(FLUSH_STARVED_US) : HAL_TICKS(FLUSH_US)))
        flush();
}

bool executor_quiet(void)
{
    return !pass.running || (!pass.finishing && !pass.pending && starved());
}
