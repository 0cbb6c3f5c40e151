/* SPDX-License-Identifier: MIT */
/* What steps give: readings, events, and the series of conversions that become readings. */
#include "core/convert.h"
#include "core/executor.h"
#include "core/executor_inside.h"
#include "core/lines.h"
#include "core/link.h"
#include "core/loading.h"
#include "core/sense.h"
#include "gen/wiring.h"
#include "hal/adc.h"
#include "hal/clock.h"

#define READINGS_MAX ((FRAME_PAYLOAD_MAX - MSG_READINGS_FIXED) / 2)
#define COLLECT_US 10         /* hal_work(), as the image takes: taking a reading */
#define LOOK 0                /* conversions of a look at the supply: it gives no reading */

_Static_assert(SPACE_FOR_STEP + UNDER_WAY * SPACE_FOR_JUDGED + FRAME_WINDOW <= LINK_SLOTS,
               "a step can start while frames are under way");

/* A load in a byte: position, lines, level. */
#define JUDGED_LINES 5
#define JUDGED_HIGH 0x80
_Static_assert(WIRING_POSITIONS < 1 << JUDGED_LINES, "five bits");

void results_forget(void)
{
    pass.under_way = pass.judged = 0;
    pass.let_go = NOTHING_WAITS;
}

void results_start(void)
{
    pass.pending = 0;
    pass.first = 0;
    pass.any_series = pass.measures = false;
    results_forget();
}

/* ----------------------------------------------------- readings and events */

void results_flush(void)
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
        results_flush();
}

void executor_event(uint16_t pass_id, uint8_t kind, uint8_t position, uint16_t value)
{
    results_flush();
    struct msg_event event = {pass_id, kind, position, value, pass.readings};
    link_send(MSG_EVENT, msg_event_pack(link_compose(), &event));
}

bool step_room(void)
{
    return link_space() >= SPACE_FOR_STEP + SPACE_FOR_JUDGED * pass.judged;
}

void step_event(uint8_t kind, uint8_t position, uint16_t value)
{
    executor_event(pass.id, kind, position, value);
}

static void series_under_way(uint8_t repeats, uint8_t judged)
{
    uint8_t at = (pass.first + pass.under_way) & (UNDER_WAY - 1);
    pass.series[at].repeats = repeats;
    pass.series[at].judged = judged;
    pass.under_way++;
    pass.any_series = true;
}

void step_series(uint8_t source, uint8_t repeats)
{
    convert_series(source, repeats);
    series_under_way(repeats, 0);
    pass.measures = repeats > 1;
}

void step_series_judged(const struct step_load *load)
{
    convert_series(SOURCE_K, load->repeats);
    series_under_way(load->repeats, (uint8_t)(load->position | load->lines << JUDGED_LINES | (load->high ? JUDGED_HIGH : 0)));
    pass.judged++;
    pass.measures = false;
}

void step_for_logic(void)
{
    pass.measures = false;
}

bool step_measures(void)
{
    return pass.measures;
}

bool step_drained(void)
{
    return pass.under_way == 0;
}

static SELDOM void take_judged(uint16_t sum, uint8_t repeats, uint8_t judged)
{
    struct step_load load = {.position = judged & ((1 << JUDGED_LINES) - 1), .lines = (judged >> JUDGED_LINES) & 3,
                             .high = (judged & JUDGED_HIGH) != 0, .repeats = repeats};
    pass.judged--;
    load_give(&load, sum);
}

void results_collect(void)
{
    uint16_t sum;
    while (pass.under_way && hal_adc_poll(&sum)) {
        uint8_t repeats = pass.series[pass.first].repeats, judged = pass.series[pass.first].judged;
        hal_work(COLLECT_US);
        pass.first = (pass.first + 1) & (UNDER_WAY - 1);
        pass.under_way--;
        if (judged)
            take_judged(sum, repeats, judged);
        else if (repeats == LOOK)
            supply_watch_take(sum);
        else
            step_reading(sum, repeats);
    }
}

void step_let_go_later(bool selector)
{
    pass.let_go = selector ? SELECTOR_WAITS : LINES_WAIT;
}

bool step_let_go(void)
{
    if (pass.let_go == NOTHING_WAITS || pass.let_go == SELECTOR_STAYS)
        return true;
    if (!hal_adc_sampled())
        return false;
    lines_load_off();
    if (pass.let_go == SELECTOR_WAITS)
        sense_ld_off();
    pass.let_go = pass.let_go == SELECTOR_WAITS ? SELECTOR_STAYS : NOTHING_WAITS;
    return true;
}

/* The selector opens before any step that could tell; a load_scan will mostly want it as it is. */
bool results_let_go_wholly(void)
{
    if (!step_let_go())
        return false;
    if (pass.let_go == SELECTOR_STAYS && pass.run->code != STEP_LOAD_SCAN) {
        sense_off();
        pass.let_go = NOTHING_WAITS;
    }
    return true;
}

void results_look(void)
{
    series_under_way(LOOK, 0);       /* for no last bit: lines may switch meanwhile */
    supply_watch_look();
}
