/* SPDX-License-Identifier: MIT */
/* The level drive runs until an output answers: an input's threshold.
 *
 * What K shows when the answer is seen must be the level at that moment, so the pin is
 * looked at in a tight loop, which is left only as often as the main loop must turn; what
 * takes long there looks too, by executor_glance(). */
#pragma GCC optimize ("Os")
#include "core/lines.h"
#include "core/sense.h"
#include "core/steps.h"
#include "gen/wiring.h"
#include "hal/adc.h"
#include "hal/clock.h"
#include "hal/device.h"
#include "hal/ports.h"

#define LEVEL_LOAD 4          /* load selector channel of the level drive (tests/firmware hold it against the wiring) */
#define SPELL_US 250          /* of looking, without a turn of the main loop: with SLOW_US well below WIRING_STRONG_UNWATCHED_US */

static struct {
    uint16_t code;            /* the level as it is */
    uint32_t since;           /* when it came to that, */
    uint32_t stays;           /* and how long it is so, ticks */
    uint8_t before;           /* the watched pin */
    bool looks;
    const struct step_ramp *with;
} ramp;

static uint8_t watched(const struct step_ramp *with)
{
    const struct wiring_line *line = &wiring_medium[with->watch - 1];
    return hal_port_get(line->port) & line->mask;
}

/* Pull-up of the watched pin while the ramp runs: an output that only sinks, or goes off, is seen to let go by it.
 * An input that is its own watch is not to be pulled. */
static void pull_up(const struct step_ramp *with, uint8_t value)
{
    const struct wiring_line *line = &wiring_medium[with->watch - 1];
    if (with->watch != with->position)
        hal_port_out(line->port, line->mask, value);
}

static enum step_answer begin(const struct step_ramp *with)
{
    /* The level takes over before the lines let go: a TTL input that floats meanwhile would read high, and clock. */
    (void)sense_set(with->position, LEVEL_LOAD, LINE_OFF);
    lines_pin_off(with->position);
    lines_pin_off(with->watch);
    pull_up(with, 0xFF);
    hal_pwm(with->first);
    ramp.code = with->first;
    ramp.with = with;
    ramp.looks = false;
    (void)step_wait(with->settle_us > sense_settle_us() ? with->settle_us : sense_settle_us());
    return GO_ON;
}

static void stay(const struct step_ramp *with)
{
    ramp.stays = HAL_TICKS(ramp.code == with->last ? with->settle_us : with->step_us);
}

static enum step_answer start(const struct step_ramp *with)
{
    ramp.before = watched(with);
    ramp.since = hal_ticks();
    ramp.looks = true;
    stay(with);
    return GO_ON;
}

/* Series first: the level still moves. */
void step_ramp_look(void)
{
    if (!ramp.looks || watched(ramp.with) == ramp.before)
        return;
    step_series(SOURCE_K, ramp.with->repeats);
    step_series(SOURCE_VDAC, ramp.with->repeats);
    step_reading(ramp.code, 0);
    ramp.looks = false;
}

static enum step_answer over(const struct step_ramp *with)
{
    pull_up(with, 0);
    hal_pwm(0);
    sense_off();
    return GO_DONE;
}

static enum step_answer never(const struct step_ramp *with)
{
    for (uint8_t i = 0; i < 3; i++)
        step_reading(READING_NONE, 0);
    return over(with);
}

static enum step_answer climb(const struct step_ramp *with)
{
    uint32_t from = hal_ticks(), now = from;
    for (; !hal_passed(now, from, HAL_TICKS(SPELL_US)); now = hal_ticks()) {
        step_ramp_look();
        if (!ramp.looks)
            return GO_ON;
        if (!hal_passed(now, ramp.since, ramp.stays))
            continue;
        if (ramp.code == with->last)
            return never(with);
        ramp.since += ramp.stays;
        if (ramp.code < with->last)
            ramp.code++;
        else
            ramp.code--;
        hal_pwm(ramp.code);
        stay(with);
    }
    return GO_STAY;
}

enum step_answer step_do_ramp(struct step_run *run)
{
    const struct step_ramp *with = &run->with.ramp;
    switch (run->phase) {
    case 0:
        return begin(with);
    case 1:
        return start(with);
    case 2:
        return climb(with);
    default:
        return hal_adc_sampled() ? over(with) : GO_STAY;
    }
}
