/* logic.c: when an input crosses its threshold, ask the part's logic.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "engine.h"

static int set_state(struct output *o, enum state wanted)
{
    if (o->forced >= 0 && wanted != STATE_UNPOWERED)
        wanted = (enum state)o->forced;
    if (o->state == wanted)
        return 0;
    o->state = wanted;
    return 1;
}

/* Level of an input with hysteresis; an input never looked at is split in the middle. */
static int level_at(const struct input *in, double volts, double supply)
{
    if (in->forced >= 0)
        return in->forced;
    double middle = in->threshold + in->fraction * (supply - 5.0);
    double half = in->known ? 0.5 * in->hysteresis : 0;
    return in->level ? volts > middle - half : volts > middle + half;
}

static int power_state(const struct chip *c, double supply)
{
    return c->powered ? supply > c->logic_off_v : supply > c->logic_on_v;
}

int logic_react(struct chip *c, int reason, const double pad[NODES], double now_s)
{
    int changed = 0;
    uint64_t out = c->logic(c->levels, reason, now_s);
    for (int k = 0; k < c->outputs; k++) {
        struct output *o = &c->output[k];
        enum state wanted = out >> (32 + o->pin) & 1 ? STATE_OFF
                          : out >> o->pin & 1 ? STATE_HIGH : STATE_LOW;
        changed |= set_state(o, wanted);
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
    if (was_powered && supply < c->logic_on_v)
        return 0;
    uint32_t levels = 0;
    int crossed = !was_powered;
    for (int k = 0; k < c->inputs; k++) {
        struct input *in = &c->input[k];
        int level = level_at(in, pad[in->node] - pad[c->gnd], supply);
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
