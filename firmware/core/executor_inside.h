/* SPDX-License-Identifier: MIT */
/* Shared by executor.c, which carries out steps, and results.c, which gives what they measure. */
#ifndef CORE_EXECUTOR_INSIDE_H
#define CORE_EXECUTOR_INSIDE_H
#include "core/seldom.h"
#include "core/steps.h"

#define SPACE_FOR_STEP 4      /* frames that one step can make: full readings, rest, event, pass_done */
#define SPACE_FOR_JUDGED 2    /* and a series that is still to be judged: readings, event */
#define UNDER_WAY 4           /* series under way at most (HAL: two and two results); power of two */

enum stage { NONE, FETCHED, BAD, ACTIVE };
enum let_go { NOTHING_WAITS, LINES_WAIT, SELECTOR_WAITS, SELECTOR_STAYS };

struct pass_state {
    bool running, finishing;
    uint16_t id;
    uint8_t status;
    uint32_t steps, readings, conversions;
    bool started;
    uint32_t started_at, elapsed;

    const uint8_t *code;          /* rest of the `steps` message at the front of the link's queue, or null */
    uint8_t left;                 /* its bytes */
    struct step_run *run;         /* the step under way or next to start */
    uint8_t stage;                /* of it */
    uint8_t need;
    uint8_t ahead;                /* stage of the step behind it: fetched while that one waits */
    struct step_run runs[2];
    bool (*until)(void);          /* nothing is carried out before this, if not null */
    bool waiting;
    uint32_t wait_from;
    uint16_t wait_us;

    uint8_t pending;              /* readings composed, not yet sent */
    uint8_t *compose;             /* where the next one goes */
    uint32_t pending_since;
    struct {
        uint8_t repeats;
        uint8_t judged;           /* what the load was that judges it, or 0 */
    } series[UNDER_WAY];          /* under way */
    uint8_t first, under_way, judged;
    bool measures;
    bool any_series;              /* in this pass */
    uint8_t let_go;               /* enum let_go */
};

extern struct pass_state pass;


/* results.c */
void results_start(void);                 /* of a pass */
void results_forget(void);                /* series under way, a load that waits */
void results_collect(void);               /* those that have finished */
SELDOM void results_flush(void);
void results_look(void);                  /* at the supply; when hal_adc_free() */
bool results_let_go_wholly(void);

#endif
