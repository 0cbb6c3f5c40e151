/* timer.c: the timing cells of monostables.
 *
 * A grounded cell (123, 9602 ...): a trigger turns a transistor on that empties the capacitor
 * between the timing pin and ground; shortly after the pin has fallen below a low level the
 * transistor lets go, the resistor charges the capacitor, and the pulse ends at a high level.
 * A coupled cell (121, 221): the timing pin is the base of a transistor that the resistor keeps
 * on.  A trigger pulls the other end of the capacitor, CX, low; the pulse lasts until the base
 * carries current again.  With nothing between the two pins but their own stray that is soon,
 * unless something else holds the base low.
 *
 * The voltages that a cell waits for are those of the network: what hangs on the pin makes
 * the pulse.  A pin behind a broken bond wire is never charged.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>
#include "engine.h"

#define BROKEN_OHM 1e6       /* a bond wire that no longer carries a timing current */
#define LET_GO_SHARE 0.3     /* of the delay is the latch that ends the discharge, the rest the way to Q */
#define FLOOR_WIDTH_V 1e-3
#define LEAST_BASE_A 1e-7    /* below it a base counts as without a resistor */

/* When a node that moves from `from` to `to` passes `volts`; CHIP_NEVER if it stops before. */
static double crossing(const struct chip_course *w, int node, double volts, int upward)
{
    double from = w->from[node - 1], to = w->to[node - 1];
    if (upward ? from >= volts : from <= volts)
        return w->since_s;
    if (upward ? to <= volts : to >= volts)
        return CHIP_NEVER;
    return w->since_s + w->tau[node - 1] * log((from - to) / (volts - to));
}

static double against_gnd(const struct chip *c, const struct chip_course *w, double volts,
                          double share)
{
    double gnd = w->to[c->gnd - 1], supply = w->to[c->vcc - 1] - gnd;
    return gnd + volts + share * supply;
}

static double end_of_phase(const struct chip *c, const struct timer *t, const struct chip_course *w)
{
    if (t->phase == TIMER_REST || !t->node || !c->powered)
        return CHIP_NEVER;
    if (t->phase == TIMER_DISCHARGE) {
        double low = against_gnd(c, w, t->low_v, t->low_share);
        return t->let_go_s < CHIP_NEVER ? t->let_go_s : crossing(w, t->node, low, 0);
    }
    if (t->endless || c->series_ohm[t->node] > BROKEN_OHM)
        return CHIP_NEVER;
    double high = against_gnd(c, w, t->high_v, t->high_share);
    double crossed = crossing(w, t->node, high, 1);
    return t->coupled ? larger(t->until_s, crossed) : crossed + (1 - LET_GO_SHARE) * t->delay_s;
}

void timer_start(struct chip *c, struct timer *t, const double pad[NODES], double now_s)
{
    double g;
    t->let_go_s = CHIP_NEVER;
    t->until_s = now_s + t->delay_s;
    if (!t->coupled) {
        t->phase = TIMER_DISCHARGE;
        return;
    }
    /* The stray between the pins takes the base down by C / (C + Cnode) of CX's swing, and the
     * base current brings it back: K R Cstray whatever the node's own capacitance. */
    double base_v = pad[t->node] - pad[c->gnd];
    double base_a = t->node ? junction_current(&t->base, base_v, &g) : 0;
    double ohm = (pad[c->vcc] - pad[t->node]) / larger(base_a, LEAST_BASE_A);
    t->until_s += t->factor * ohm * t->stray_f;
    t->phase = TIMER_TIMING;
}

void timer_stop(struct timer *t)
{
    t->phase = TIMER_REST;
}

double chip_wait(const struct chip *c, const struct chip_course *w)
{
    double first = CHIP_NEVER;
    for (int k = 0; k < c->timers; k++)
        first = smaller(first, end_of_phase(c, &c->timer[k], w));
    for (int k = 0; k < c->inputs && c->lags && c->powered && !c->starved; k++)
        first = smaller(first, input_wait(&c->input[k]));
    return first;
}

int chip_act(struct chip *c, const struct chip_course *w, double now_s)
{
    int changed = 0;
    double pad[NODES] = {0};
    memcpy(pad + 1, w->to, CHIP_POSITIONS * sizeof *pad);
    for (int k = 0; k < c->inputs && c->powered && !c->starved; k++)
        changed |= input_wait(&c->input[k]) <= now_s;   /* chip_settle will see it */
    for (int k = 0; k < c->timers; k++) {
        struct timer *t = &c->timer[k];
        if (end_of_phase(c, t, w) > now_s)
            continue;
        if (t->phase == TIMER_TIMING) {
            timer_stop(t);
            logic_react(c, REASON_TIMER + k, pad, now_s);
            changed = 1;
        } else if (t->let_go_s == CHIP_NEVER) {
            t->let_go_s = now_s + LET_GO_SHARE * t->delay_s;
        } else {
            t->phase = TIMER_TIMING;
            changed = 1;
        }
    }
    return changed;
}

void add_timer(const struct chip *c, const struct timer *t, const double *v, double *i,
               double (*j)[NODES])
{
    if (!t->coupled) {
        double slope, volts = v[t->node] - v[c->gnd] - t->floor_v;
        double over = FLOOR_WIDTH_V * softplus(volts / FLOOR_WIDTH_V, &slope);
        if (t->phase == TIMER_DISCHARGE && c->powered)
            branch(t->node, c->gnd, over / t->on_ohm, slope / t->on_ohm, i, j);
        return;
    }
    double g, current = junction_current(&t->base, v[t->node] - v[c->gnd], &g);
    branch(t->node, c->gnd, current, g, i, j);
    if (!t->cx)
        return;
    int rail = t->phase == TIMER_TIMING ? c->gnd : c->vcc;
    double siemens = 1 / (t->phase == TIMER_TIMING ? t->on_ohm : t->up_ohm);
    branch(t->cx, rail, (v[t->cx] - v[rail]) * siemens, siemens, i, j);
}
