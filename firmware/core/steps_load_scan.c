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
#include "core/sense.h"
#include "core/steps.h"
#include "gen/wiring.h"
#include "hal/adc.h"

#define OVERLAPPED 16          /* phases from here on */
enum { PUT_ON = OVERLAPPED, CONVERT, SAMPLE, JUDGE };

#define OVERLAP_REPEATS_MOST 5
#define OVERLAP_SETTLE_MOST_US 200U
/* Put on while the one before converts once more, settling, its own conversions. */
_Static_assert(WIRING_ADC_CONVERSION_US * (2 + OVERLAP_REPEATS_MOST) + OVERLAP_SETTLE_MOST_US < WIRING_STRONG_UNWATCHED_US,
               "no strong load stands unseen for longer");

static uint32_t scan_left, scan_high;    /* positions still to come, bit 0 is the next one to look at */
static bool waits;                       /* the next phase is not to come in this turn */
static bool looks_back;                  /* a strong load's series is not judged yet */
static bool standing;                    /* the load under way is on */
static bool more;                        /* a position follows the one whose sample is held */
static struct step_load held;            /* whose sample the converter holds */

/* The next position of the scan becomes the load under way; false if there is none. */
static bool next_position(struct step_load *load)
{
    while (scan_left) {
        bool found = scan_left & 1;
        load->high = (uint8_t)(scan_high & 1);
        load->position++;
        scan_left >>= 1;
        scan_high >>= 1;
        if (found)
            return true;
    }
    return false;
}

static bool can_overlap(const struct step_load *load)
{
    return load->repeats <= OVERLAP_REPEATS_MOST && !((load->lines & 2) && load->load)
        && load->settle_us <= OVERLAP_SETTLE_MOST_US;
}

static bool put_on(const struct step_load *load)
{
    uint8_t where = 0;
    lines_pin_off(load->position);
    bool fits = sense_set(load->position, load->load, load_level(load))
        && lines_load(load->position, load->lines, load->high != 0, &where) == LINES_OK;
    if (!fits)
        step_event(EVENT_OVER_BUDGET, load->position, where);
    return fits;
}

static bool is_strong(const struct step_load *load)
{
    return (load->lines & 2) != 0;
}

static void give(uint16_t sum)
{
    uint16_t code = (uint16_t)(sum / held.repeats);
    if (load_shorted(&held, code)) {
        step_event(EVENT_SHORT, held.position, code);
        step_reading(READING_NONE, 0);
    } else {
        step_reading(sum, held.repeats);
    }
}

static enum step_answer to(struct step_run *run, uint8_t phase)
{
    run->phase = phase;
    return GO_STAY;
}

/* The load stands; its series may be given once it has settled. */
static enum step_answer put_on_and_settle(struct step_run *run)
{
    if (!put_on(&run->with.load))
        return GO_FAULT;
    standing = true;
    run->phase = CONVERT;
    waits = step_wait(load_settle_us(&run->with.load));
    return GO_STAY;
}

/* Weak loads need no look: their readings come by themselves. */
static enum step_answer convert(struct step_run *run)
{
    const struct step_load *load = &run->with.load;
    if (!hal_adc_free())
        return GO_STAY;
    if (is_strong(load)) {
        convert_series(SOURCE_K, load->repeats);
    } else {
        step_series(SOURCE_K, load->repeats);
        step_for_logic();
    }
    return to(run, looks_back ? JUDGE : SAMPLE);
}

/* The sample is held: this load goes, and the next one comes while the converter still works. */
static enum step_answer pass_on(struct step_run *run)
{
    struct step_load *load = &run->with.load;
    held = *load;
    looks_back = is_strong(load);
    lines_unload();
    standing = false;
    more = next_position(load);
    if (!more) {
        load_off(&held);
        return looks_back ? to(run, JUDGE) : GO_DONE;
    }
    if (!step_room())
        return to(run, looks_back ? JUDGE : PUT_ON);
    return put_on_and_settle(run);
}

/* What the strong load before showed. */
static enum step_answer judge(struct step_run *run)
{
    uint16_t sum;
    if (!hal_adc_poll(&sum))
        return GO_STAY;
    give(sum);
    looks_back = false;
    if (!more)
        return GO_DONE;
    return to(run, standing ? SAMPLE : PUT_ON);
}

static enum step_answer overlapped(struct step_run *run)
{
    switch (run->phase) {
    case PUT_ON:
        if (!step_room())
            return GO_STAY;
        return put_on_and_settle(run);
    case CONVERT:
        return convert(run);
    case SAMPLE:
        return hal_adc_sampled() ? pass_on(run) : GO_STAY;
    default:
        return judge(run);
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
    if (run->phase == 0 && !step_room())
        return GO_STAY;
    enum step_answer answer = step_do_load(run);
    if (answer != GO_DONE)
        return answer;
    run->phase = 0;
    return next_position(&run->with.load) ? GO_STAY : GO_DONE;
}

enum step_answer step_do_load_scan(struct step_run *run)
{
    if (!run->scanning) {
        struct step_load_scan scan = run->with.load_scan;    /* shares its place with the load */
        scan_left = scan.mask;
        scan_high = scan.high;
        run->with.load = (struct step_load){
            .position = 0, .lines = scan.lines, .load = scan.load, .also = 0,
            .repeats = scan.repeats, .settle_us = scan.settle_us};
        run->scanning = true;
        if (!next_position(&run->with.load))
            return GO_DONE;
        looks_back = false;
        run->phase = can_overlap(&run->with.load) ? PUT_ON : 0;
    }
    return run->phase >= OVERLAPPED ? as_far_as_it_goes(run) : one_by_one(run);
}
