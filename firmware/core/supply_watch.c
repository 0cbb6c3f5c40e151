/* SPDX-License-Identifier: MIT */
/* Looks at the supply while the chip is powered: a dip that has recovered by the end of a sweep,
 * or a chip that was lifted meanwhile, would else go unseen.
 *
 * When a look is due is counted in conversions and waits asked for, not read from the clock:
 * so the same steps give the same conversions in the same order, whatever else a turn had to do. */
#pragma GCC optimize ("Os")
#include "core/convert.h"
#include "core/power.h"
#include "core/steps.h"

#define LATE 255              /* conversions, some 27 ms */
#define LEISURELY 20          /* some 2 ms */

enum { VREF, ICC, LOOKED_AT };

static struct {
    uint16_t least[LOOKED_AT], most[LOOKED_AT];
    uint8_t next, pending;
} watch;

void supply_watch_start(void)
{
    for (uint8_t i = 0; i < (uint8_t)LOOKED_AT; i++) {
        watch.least[i] = READING_NONE;
        watch.most[i] = 0;
    }
}

bool supply_watch_due(bool at_leisure)
{
    return convert_spent() >= (at_leisure ? LEISURELY : LATE) && power_is_on() && convert_reference_now() == REF_AVCC;
}

void supply_watch_look(void)
{
    convert_series(watch.next == VREF ? SOURCE_VREF : SOURCE_ICC, 1);
    convert_spent_forget();
    watch.pending = watch.next;
    watch.next ^= 1;
}

void supply_watch_take(uint16_t code)
{
    if (code < watch.least[watch.pending])
        watch.least[watch.pending] = code;
    if (code > watch.most[watch.pending])
        watch.most[watch.pending] = code;
}

enum step_answer step_do_supply_span(struct step_run *run)
{
    (void)run;
    for (uint8_t i = 0; i < (uint8_t)LOOKED_AT; i++) {
        bool looked = watch.least[i] != READING_NONE;
        step_reading(watch.least[i], 0);
        step_reading(looked ? watch.most[i] : READING_NONE, 0);
    }
    supply_watch_start();
    return GO_DONE;
}
