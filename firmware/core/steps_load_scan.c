/* SPDX-License-Identifier: MIT */
/* One position after the other under load, at the converter's pace.
 *
 * Once the sample of one position is held its load is let go and the next one is
 * put on, while the converter is still at work; so a load stands for its settling
 * and its conversions at most (well under WIRING_STRONG_UNWATCHED_US), and what they
 * show comes too late to matter to it.  Lines on the converter's own ports switch
 * meanwhile too: these readings are for logic levels, which need no last bit.
 * Where that cannot be (more than a few conversions each, a strong line together with
 * the selector, whose look needs it open) each position is a `load` of its own. */
#include "core/convert.h"
#include "core/lines.h"
#include "core/loading.h"
#include "core/positions.h"
#include "core/sense.h"
#include "core/steps.h"
#include "gen/wiring.h"
#include "hal/adc.h"
#include "hal/clock.h"

#define PLAN_US 30             /* hal_work(), as the image takes */
#define SWITCH_US 15
#define CONVERT_US 8

#define OVERLAPPED 16          /* phases from here on */
enum { PLAN = OVERLAPPED, SWITCH, CONVERT };

#define OVERLAP_REPEATS_MOST 5
#define OVERLAP_SETTLE_MOST_US 200U
/* Put on while the one before converts once more, settling, its own conversions. */
_Static_assert(WIRING_ADC_CONVERSION_US * (2 + OVERLAP_REPEATS_MOST) + OVERLAP_SETTLE_MOST_US < WIRING_STRONG_UNWATCHED_US,
               "no strong load stands unseen for longer");

static struct {
    uint32_t mask, high;
} scan;
static uint8_t first;                    /* position */
static bool waits;                       /* the next phase is not to come in this turn */

/* The next position of the scan becomes the load under way; false if there is none. */
static bool next_position(struct step_load *load)
{
    uint8_t position = position_behind(&scan.mask, load->position);
    if (!position)
        return false;
    load->position = position;
    load->high = position_in(&scan.high, position);
    return true;
}

static bool can_overlap(const struct step_load *load)
{
    return load->repeats <= OVERLAP_REPEATS_MOST && !((load->lines & 2) && load->load)
        && load->settle_us <= OVERLAP_SETTLE_MOST_US;
}

void load_give(const struct step_load *load, uint16_t sum)
{
    uint16_t code = (uint16_t)(sum / load->repeats);
    if (load_shorted(load, code)) {
        step_event(EVENT_SHORT, load->position, code);
        step_reading(READING_NONE, 0);
    } else {
        step_reading(sum, load->repeats);
    }
}

static enum step_answer over_budget(const struct step_load *load, uint8_t where)
{
    step_event(EVENT_OVER_BUDGET, load->position, where);
    return GO_FAULT;
}

/* Counted while the load before still stands and converts. */
static enum step_answer plan(struct step_run *run)
{
    const struct step_load *load = &run->with.load;
    uint8_t where = 0;
    if (!step_room()) {
        if (hal_adc_sampled())
            lines_load_off();            /* it may take long */
        return GO_STAY;
    }
    hal_work(PLAN_US);
    if (lines_load_plan(load->position, load->lines, load->high != 0, &where) != LINES_OK)
        return over_budget(load, where);
    sense_ahead(load->position, load->load);
    run->phase = SWITCH;
    return GO_STAY;
}

/* The sample is held: the load before goes, and this one comes while the converter still works. */
static enum step_answer switch_over(struct step_run *run)
{
    const struct step_load *load = &run->with.load;
    if (!hal_adc_sampled()) {
        step_until(hal_adc_sampled);
        return GO_STAY;
    }
    hal_work(SWITCH_US);
    lines_load_off();
    if (lines_drive(load->position))
        lines_pin_off(load->position);
    if (!sense_moves_to(load->position, load->load, load_level(load)))
        return over_budget(load, 0);
    lines_load_on();
    run->phase = CONVERT;
    waits = step_wait(load_settle_us(load));
    return GO_STAY;
}

/* Weak loads need no look: nothing judges their readings. */
static enum step_answer convert(struct step_run *run)
{
    struct step_load *load = &run->with.load;
    if (!hal_adc_free())
        return GO_STAY;
    hal_work(CONVERT_US);
    if (load->lines & 2) {
        step_series_judged(load);
    } else {
        step_series(SOURCE_K, load->repeats);
        step_for_logic();
    }
    run->phase = PLAN;
    if (next_position(load))
        return GO_STAY;
    lines_load_none();
    sense_ahead(first, load->load);      /* mostly the next scan begins where this one did */
    step_let_go_later(load->load != 0);
    return GO_DONE;
}

static enum step_answer overlapped(struct step_run *run)
{
    switch (run->phase) {
    case PLAN:
        return plan(run);
    case SWITCH:
        return switch_over(run);
    default:
        return convert(run);
    }
}

/* Phases follow each other within a turn of the main loop where they can: the converter waits for them. */
static enum step_answer as_far_as_it_goes(struct step_run *run)
{
    enum step_answer answer = GO_STAY;
    waits = false;
    for (uint8_t before = 0; answer == GO_STAY && !waits && run->phase != before;) {
        before = run->phase;
        answer = overlapped(run);
    }
    return answer;
}

static enum step_answer one_by_one(struct step_run *run)
{
    if (run->phase == 0 && !(step_drained() && step_room()))
        return GO_STAY;
    enum step_answer answer = step_do_load(run);
    if (answer != GO_DONE)
        return answer;
    run->phase = 0;
    return next_position(&run->with.load) ? GO_STAY : GO_DONE;
}

/* The load takes the place of the scan: read before it is written. */
static void begin(struct step_load *load, const struct step_load_scan *from)
{
    uint8_t lines = from->lines, selector = from->load, repeats = from->repeats;
    uint16_t settle_us = from->settle_us;
    scan.mask = from->mask;
    scan.high = from->high;
    load->position = 0;
    load->lines = lines;
    load->load = selector;
    load->also = 0;
    load->repeats = repeats;
    load->settle_us = settle_us;
}

enum step_answer step_do_load_scan(struct step_run *run)
{
    if (!run->scanning) {
        begin(&run->with.load, &run->with.load_scan);
        run->scanning = true;
        if (!next_position(&run->with.load))
            return GO_DONE;
        first = run->with.load.position;
        run->phase = can_overlap(&run->with.load) ? PLAN : 0;
    }
    return run->phase >= OVERLAPPED ? as_far_as_it_goes(run) : one_by_one(run);
}
