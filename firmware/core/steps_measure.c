/* SPDX-License-Identifier: MIT */
/* Steps that read. */
#include "core/convert.h"
#include "core/lines.h"
#include "core/loading.h"
#include "core/positions.h"
#include "core/power.h"
#include "core/sense.h"
#include "core/steps.h"
#include "gen/wiring.h"
#include "hal/adc.h"

/* A strong load that may stand against a short waits no longer than this for the
 * look at it; with the conversion that makes less than WIRING_STRONG_UNWATCHED_US. */
#define LOOK_US 500U
#define FULL_SCALE 1023
#define SATURATED 1020        /* of a reference below 5 V: nothing can be told, so it counts as a short */

_Static_assert(LOOK_US + 3 * WIRING_ADC_CONVERSION_US < WIRING_STRONG_UNWATCHED_US, "the look comes in time");

enum step_answer step_do_reference(struct step_run *run)
{
    return convert_reference(run->with.reference.reference) ? GO_DONE : GO_STAY;
}

enum step_answer step_do_settle(struct step_run *run)
{
    if (run->phase == 1)
        return GO_DONE;
    convert_spent_wait(run->with.settle.us);
    step_wait(run->with.settle.us);
    return GO_ON;
}

enum step_answer step_do_read(struct step_run *run)
{
    if (!hal_adc_free())
        return GO_STAY;
    step_series(run->with.read.source, run->with.read.repeats);
    return GO_DONE;
}

/* K is tied to the next position as soon as the last sample is held, and the next
 * series waits for the converter.  A settling time that is long is a phase of its own.
 * code_seen: the position that comes next, 0: none. */
enum step_answer step_do_scan(struct step_run *run)
{
    const struct step_scan *scan = &run->with.scan;
    if (run->phase == 0) {
        run->position = 0;
        run->code_seen = position_behind(&scan->mask, 0);
        run->rest = run->code_seen;
        if (!run->code_seen)
            return GO_DONE;
        run->phase = 1;
    }
    if (run->phase == 1) {
        if (!hal_adc_sampled()) {
            step_until(hal_adc_sampled);
            return GO_STAY;
        }
        run->position = (uint8_t)run->code_seen;
        sense_position(run->position);
        if (step_wait(sense_settle_us()))
            return GO_ON;
    }
    if (!hal_adc_free()) {
        run->phase = 2;
        return GO_STAY;
    }
    step_series(SOURCE_K, scan->repeats);
    run->phase = 1;
    run->code_seen = position_behind(&scan->mask, run->position);
    sense_position_ahead((uint8_t)(run->code_seen ? run->code_seen : run->rest));
    return run->code_seen ? GO_STAY : GO_DONE;
}

/* --------------------------------------------------------------------- load */

static uint16_t ground_code, supply_code;

void step_rails(uint16_t ground, uint16_t supply)
{
    ground_code = ground;
    supply_code = supply;
}

/* Does a loaded position stand at the very rail that it would be shorted to?
 * The limits are for rails at 0 and full scale; a powered chip's own rails count. */
bool load_shorted(const struct step_load *load, uint16_t code)
{
    static const uint8_t scale[] = {[REF_AVCC] = 1, [REF_V2V56] = 2, [REF_V1V1] = 5};   /* 5 V over the reference */
    uint8_t reference = convert_reference_now();
    bool on = power_is_on();
    if (load->high) {
        int16_t most = (int16_t)(wiring_short_low_max[load->lines] + (on ? (int16_t)ground_code : 0));
        return wiring_short_low_max[load->lines] >= 0 && (int16_t)code <= most * scale[reference];
    }
    int16_t least = wiring_short_high_min[load->lines];
    if (least > FULL_SCALE)
        return false;
    if (reference != REF_AVCC)
        return code >= SATURATED;
    if (on)
        least = (int16_t)(least - (FULL_SCALE - (int16_t)supply_code));
    return (int16_t)code >= least;
}

/* With the selector open K may stay where it is. */
void load_off(const struct step_load *load)
{
    lines_unload();
    if (load->load)
        sense_off();
}

/* Only loads with a strong line are looked at: the others cannot hurt. */
static bool looked_at(const struct step_load *load)
{
    return (load->lines & 2) != 0;
}

uint8_t load_level(const struct step_load *load)
{
    if (wiring_load_short[load->load] == 0)
        return LINE_OFF;
    return load->high ? LINE_HIGH : LINE_LOW;
}

static bool tie_with_load(const struct step_load *load)
{
    return sense_set(load->position, load->load, load_level(load));
}

uint16_t load_settle_us(const struct step_load *load)
{
    return load->settle_us > sense_settle_us() ? load->settle_us : sense_settle_us();
}

/* The look needs the selector open: its current would flow through the multiplexer
 * that K sees the position by. */
static enum step_answer load_on(struct step_run *run)
{
    const struct step_load *load = &run->with.load;
    uint8_t where = 0;
    bool look = looked_at(load);
    lines_pin_off(load->position);
    if (!lines_count_ld(load->load, load_level(load))) {
        step_event(EVENT_OVER_BUDGET, load->position, where);
        return GO_FAULT;
    }
    if (look)
        (void)sense_set(load->position, 0, LINE_OFF);
    else
        (void)tie_with_load(load);
    if (lines_load(load->position, load->lines, load->high != 0, &where) != LINES_OK) {
        step_event(EVENT_OVER_BUDGET, load->position, where);
        return GO_FAULT;
    }
    run->rest = load_settle_us(load);
    run->code_seen = 0;
    if (look) {
        uint16_t first = run->rest < LOOK_US ? run->rest : LOOK_US;
        run->rest = (uint16_t)(run->rest - first);
        (void)step_wait(first);
    } else {
        (void)step_wait(run->rest);
        run->rest = 0;
    }
    return GO_ON;
}

static enum step_answer load_look(struct step_run *run)
{
    if (looked_at(&run->with.load))
        convert_series(SOURCE_K, 1);
    return GO_ON;
}

/* Where nothing more has to settle the look is the first conversion of the reading:
 * code_seen keeps it, and `position` how many are still to come. */
static enum step_answer load_judge(struct step_run *run)
{
    const struct step_load *load = &run->with.load;
    uint16_t code;
    run->position = load->repeats;
    if (!looked_at(load))
        return GO_ON;
    if (!hal_adc_poll(&code))
        return GO_STAY;
    if (load_shorted(load, code)) {
        load_off(load);
        step_event(EVENT_SHORT, load->position, code);
        step_reading(READING_NONE, 0);
        if (load->also)
            step_reading(READING_NONE, 0);
        return GO_DONE;
    }
    if (load->load) {
        (void)tie_with_load(load);
        run->rest = load_settle_us(load);
    }
    if (run->rest) {
        (void)step_wait(run->rest);
    } else {
        run->code_seen = code;
        run->position--;
    }
    return GO_ON;
}

static enum step_answer load_series(const struct step_run *run)
{
    if (run->position)
        convert_series(SOURCE_K, run->position);
    return GO_ON;
}

static enum step_answer load_read(const struct step_run *run)
{
    const struct step_load *load = &run->with.load;
    uint16_t sum = 0;
    if (run->position && !hal_adc_poll(&sum))
        return GO_STAY;
    step_reading((uint16_t)(sum + run->code_seen), load->repeats);
    if (!load->also) {
        load_off(load);
        return GO_DONE;
    }
    (void)sense_set(load->also, 0, LINE_OFF);
    (void)step_wait(sense_settle_us());
    return GO_ON;
}

enum step_answer step_do_load(struct step_run *run)
{
    const struct step_load *load = &run->with.load;
    uint16_t sum;
    switch (run->phase) {
    case 0:
        return load_on(run);
    case 1:
        return load_look(run);
    case 2:
        return load_judge(run);
    case 3:
        return load_series(run);
    case 4:
        return load_read(run);
    case 5:
        convert_series(SOURCE_K, load->repeats);
        return GO_ON;
    default:
        if (!hal_adc_poll(&sum))
            return GO_STAY;
        step_reading(sum, load->repeats);
        load_off(load);
        return GO_DONE;
    }
}
