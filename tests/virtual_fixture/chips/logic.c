/* logic.c: when an input crosses its threshold, ask the part's logic.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdlib.h>
#include "engine.h"

#define LEAST_WAIT_S 1e-9 /* less could be lost in the rounding of the time, which then stands still */
#define CROSSED_V 1e-6   /* beyond its threshold an input has surely crossed it */

static int set_state(struct output *o, enum state wanted)
{
    if (o->forced >= 0 && wanted != STATE_UNPOWERED)
        wanted = (enum state)o->forced;
    if (o->state == wanted)
        return 0;
    o->state = wanted;
    return 1;
}

/* Voltage of an input on its way to `aim_v`. */
static double on_the_way(const struct input *in, double now_s)
{
    if (in->lag_s <= 0)
        return in->aim_v;
    return in->aim_v + (in->from_v - in->aim_v) * exp(-(now_s - in->since_s) / in->lag_s);
}

/* Level of an input with hysteresis; an input never looked at is split in the middle, and has
 * had its voltage for long. */
static int level_at(struct input *in, double volts, double supply, double now_s)
{
    if (in->lag_s > 0) {
        in->from_v = in->known ? on_the_way(in, now_s) : volts;
        in->since_s = now_s;
    }
    in->aim_v = volts;
    if (in->forced >= 0)
        return in->forced;
    double half = in->known ? 0.5 * in->hysteresis : 0;
    in->edge_v = in->threshold + in->fraction * (supply - 5.0) + (in->level ? -half : half);
    return on_the_way(in, now_s) > in->edge_v;
}

/* When an input that lags behind its pin will have crossed its threshold. */
double input_wait(const struct input *in)
{
    if (in->lag_s <= 0 || in->forced >= 0 || !in->known)
        return CHIP_NEVER;
    double beyond = in->edge_v + (in->level ? -CROSSED_V : CROSSED_V);
    double left = (in->from_v - in->aim_v) / (beyond - in->aim_v);
    return left < 1 ? CHIP_NEVER : in->since_s + larger(in->lag_s * log(left), LEAST_WAIT_S);
}

static int power_state(const struct chip *c, double supply)
{
    return c->powered ? supply > c->logic_off_v : supply > c->logic_on_v;
}

/* Ask the logic, or recall what it said when it was here before: a test plays the same patterns many times, and an answer
 * hangs on the state, the levels before and the levels now. */
static uint64_t ask(struct chip *c, int reason, double now_s)
{
    struct place *at = &c->place, from = *at;
    struct answer *a = NULL;
    at->asked++;
    if (!c->answers)
        c->answers = calloc(ANSWERS, sizeof *c->answers);
    if (reason == REASON_INPUT && from.state && c->answers) {
        uint64_t h = (((uint64_t)from.levels << 32 | c->levels) ^ (uint64_t)from.state << 40) * 0x9E3779B97F4A7C15u;
        a = &c->answers[(h ^ h >> 32) * 0x9E3779B97F4A7C15u >> 32 & (ANSWERS - 1)];
        if (a->state == from.state && a->before == from.levels && a->levels == c->levels) {
            at->state = a->next;
            at->levels = c->levels;
            return a->out;
        }
    }
    uint64_t out = c->logic(c->levels, reason, now_s);
    if (a && at->state)
        *a = (struct answer){from.state, from.levels, c->levels, at->state, out};
    return out;
}

int logic_react(struct chip *c, int reason, const double pad[NODES], double now_s)
{
    int changed = 0;
    uint64_t out = ask(c, reason, now_s);
    for (int k = 0; k < c->outputs; k++) {
        struct output *o = &c->output[k];
        enum state wanted = out >> (32 + o->pin) & 1 ? STATE_OFF
                          : out >> o->pin & 1 ? STATE_HIGH : STATE_LOW;
        changed |= set_state(o, wanted);
    }
    for (int k = 0; k < c->gates; k++) {
        bool closed = out >> c->gate[k].pin & 1;
        changed |= closed != c->gate[k].closed;
        c->gate[k].closed = closed;
    }
    for (int k = 0; k < c->timers; k++) {
        if (out >> (TIMER_STOP_BIT + k) & 1)
            timer_stop(&c->timer[k]);
        if (out >> (TIMER_START_BIT + k) & 1)
            timer_start(c, &c->timer[k], pad, now_s);
        changed |= (out >> (TIMER_STOP_BIT + k) & 1) | (out >> (TIMER_START_BIT + k) & 1);
    }
    return changed;
}

int chip_settle(struct chip *c, const double v[NODES], double now_s)
{
    if (!c->vcc || !c->gnd)
        return 0;
    double pad[NODES];
    solve_pads(c, v, pad);
    double supply = pad[c->vcc] - pad[c->gnd];
    int was_powered = c->powered, changed = 0;
    c->powered = power_state(c, supply);
    if (!c->powered) {
        for (int k = 0; k < c->outputs; k++)
            changed |= set_state(&c->output[k], STATE_UNPOWERED);
        for (int k = 0; k < c->inputs; k++)
            c->input[k].known = 0;
        for (int k = 0; k < c->timers; k++)
            timer_stop(&c->timer[k]);
        return changed;
    }
    /* Below its lowest supply a chip keeps what it has: one that is fed through its
     * inputs would otherwise pull its own supply up and down for ever. */
    c->starved = was_powered && supply < c->logic_on_v;
    if (c->starved)
        return 0;
    uint32_t levels = 0;
    int crossed = !was_powered;
    for (int k = 0; k < c->inputs; k++) {
        struct input *in = &c->input[k];
        int level = level_at(in, pad[in->node] - pad[c->gnd], supply, now_s);
        crossed |= !in->known || level != in->level;
        in->level = level;
        in->known = 1;
        levels |= (uint32_t)level << in->pin;
    }
    if (!crossed)
        return 0;
    if (!was_powered)
        c->powered_at_s = now_s;
    c->levels = levels;
    return logic_react(c, was_powered ? REASON_INPUT : REASON_POWER_UP, pad, now_s);
}

uint64_t chip_state(const struct chip *c)
{
    uint64_t state = c->powered ? 1 : 0;                 /* 1 + 2 MAX_TIMERS + 2 CHIP_POSITIONS bits, each pin an output or a switch */
    for (int k = 0; k < c->gates; k++)
        state = state << 1 | c->gate[k].closed;
    for (int k = 0; k < c->timers; k++)
        state = state << 2 | (uint64_t)c->timer[k].phase;
    for (int k = 0; k < c->outputs; k++)
        state = state << 2 | (uint64_t)c->output[k].state;
    return state;
}
