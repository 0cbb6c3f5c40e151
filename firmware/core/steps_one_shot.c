/* SPDX-License-Identifier: MIT */
/* A monostable's pulse: an edge at one position, and how long another one answers.
 *
 * The first microseconds are looked at without interrupts (hal_edge_look), so that pulses of a few clocks
 * are seen; what lasts longer is followed by the clock, as long as the main loop may stand still. */
#pragma GCC optimize ("Os")
#include "core/lines.h"
#include "core/steps.h"
#include "hal/clock.h"
#include "hal/ports.h"

#define SHOTS HAL_LOOK_CLOCKS /* each a clock later than the one before: the looks of all together lie a clock apart */
#define FOLLOW_US 850         /* from the edge on: less than WIRING_STRONG_UNWATCHED_US */
#define GIVE_UP_US 30000UL
#define RECOVER_US 300        /* between two: the timing node comes back to its supply, five times 100 kohm and 250 pF and more */
#define AGAIN_LEAST 4

_Static_assert(FOLLOW_US < WIRING_STRONG_UNWATCHED_US, "lines are watched between");
_Static_assert(HAL_TICKS(1) * HAL_LOOK_CLOCKS * 1000000UL == WIRING_CLOCK_HZ, "a look is a tick");

static struct {
    struct hal_edge edge;
    uint16_t looks;           /* at which it was not at rest, of all shots */
    uint8_t shots, seen;
    uint32_t since;           /* the last edge was due */
} shot;

static bool at_rest(void)
{
    return !((hal_port_get(shot.edge.in_port) ^ shot.edge.rest) & shot.edge.in_mask);
}

/* The other level, as a state that is allowed: the budget is asked once, here; the shots repeat it. */
static enum step_answer flip(uint8_t position)
{
    struct step_drive to = *lines_now();
    uint32_t bit = POSITION_BIT(position);
    uint8_t where;
    to.m_high ^= bit;
    to.s_high ^= bit;
    if (lines_plan(&to, &where) != LINES_OK) {
        step_event(EVENT_OVER_BUDGET, 0, where);
        return GO_FAULT;
    }
    lines_commit();
    shot.since = hal_ticks();
    (void)step_wait(RECOVER_US);
    return GO_ON;
}

static enum step_answer begin(const struct step_one_shot *with)
{
    const struct wiring_line *line = &wiring_medium[with->watch - 1];
    if (!lines_drive(with->trigger) || with->watch == with->trigger || (with->again && with->again < AGAIN_LEAST))
        return GO_BAD;
    shot.edge.in_port = line->port;
    shot.edge.in_mask = line->mask;
    shot.edge.rest = hal_port_get(line->port);
    shot.looks = shot.shots = shot.seen = 0;
    return flip(with->trigger);
}

static void shoot(const struct step_one_shot *with)
{
    lines_edge(with->trigger, &shot.edge);
    shot.since = hal_ticks();
    uint16_t looks = hal_edge_look(&shot.edge, shot.shots, with->again);
    if (looks > HAL_LOOK_MOST) {
        uint32_t now;
        do
            now = hal_ticks();
        while (!at_rest() && !hal_passed(now, shot.since, HAL_TICKS(FOLLOW_US)));
        looks = (uint16_t)(now - shot.since);
    } else if (looks) {
        looks = (uint16_t)(looks + with->again);
    }
    hal_edge_toggle(&shot.edge);
    shot.shots++;
    shot.looks = (uint16_t)(shot.looks + looks);
    shot.seen = (uint8_t)(shot.seen + (looks != 0));
}

static enum step_answer over(uint16_t looks)
{
    step_reading(looks, 0);
    step_reading(shot.seen, 0);
    return GO_DONE;
}

enum step_answer step_do_one_shot(struct step_run *run)
{
    const struct step_one_shot *with = &run->with.one_shot;
    if (run->phase == 0)
        return begin(with);
    if (run->phase == 1)
        return flip(with->trigger);
    if (!at_rest())
        return hal_passed(hal_ticks(), shot.since, HAL_TICKS(GIVE_UP_US)) ? over(READING_NONE - 1) : GO_STAY;
    if (shot.shots == SHOTS)
        return over(shot.looks);
    shoot(with);
    run->phase = 1;               /* the wait, and the same again */
    (void)step_wait(RECOVER_US);
    return GO_ON;
}
