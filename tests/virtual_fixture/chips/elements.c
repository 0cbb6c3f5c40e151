/* elements.c: every element's contribution to currents and slopes.
 *
 * A two-terminal element adds +I at one node and -I at the other, a three-terminal
 * one balances its own terminals: so the chip's currents always sum to zero.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>
#include "engine.h"

/* A curve stands for all of an input while the chip is powered. */
static int has_curve(const struct chip *c, int node)
{
    return c->curves && c->powered && c->input_curve[node];
}

static int all_curves(const struct chip *c, const struct base *b)
{
    if (!c->curves)
        return 0;
    for (int k = 0; k < b->count; k++)
        if (!has_curve(c, b->pins[k]))
            return 0;
    return 1;
}

/* What a law gives at two voltages; where both are within near_v of where it was asked last, by its slopes there. */
static double told(const struct chip *c, struct memo *m, law_fn law, const void *what, double x, double y, double *gx,
                   double *gy)
{
    double dx = x - m->x, dy = y - m->y;
    if (m->law != law || fabs(dx) > c->memory->near_v || fabs(dy) > c->memory->near_v) {
        m->gx = m->gy = dx = dy = 0;
        m->i = law(what, x, y, &m->gx, &m->gy);
        m->law = law;
        m->x = x;
        m->y = y;
    }
    *gx = m->gx;
    *gy = m->gy;
    return m->i + m->gx * dx + m->gy * dy;
}

static double diode_law(const void *what, double volts, double unused, double *g, double *gy)
{
    const struct diode *d = what;
    (void)unused, (void)gy;
    double current = junction_current(&d->j, volts, g);
    *g += 1e-13;
    return current + 1e-13 * volts;
}

/* Of an emitter so far above the lowest; beyond 40 n VT nothing that a double could hold beside it. */
static double share_of(double above, double t)
{
    return above > 40 * t ? 0 : above == 0 ? 1 : exp(-above / t);
}

/* Currents and slopes of a base at its own nodes: the inputs, GND, VCC. */
static void base_law(const struct base *b, const int *curve, const double *v, double *i, double (*j)[MAX_SHARED + 2])
{
    const double out_of_the_way = 100.0;   /* volts of an input that takes no share */
    const int all = b->count + 1, gnd = b->count, vcc = b->count + 1;
    double t = b->j.t;
    double stack = v[gnd] + b->steer_v;
    double lowest = stack;
    double at[MAX_SHARED + 1], share[MAX_SHARED + 1];
    for (int k = 0; k < b->count; k++) {
        at[k] = curve[k] ? out_of_the_way : v[k];
        lowest = smaller(lowest, at[k]);
    }
    at[gnd] = stack;
    double sum = share[gnd] = share_of(stack - lowest, t);
    for (int k = 0; k < b->count; k++) {
        share[k] = share_of(at[k] - lowest, t);
        sum += share[k];
    }
    for (int k = 0; k < all; k++)
        share[k] /= sum;
    double g;
    double current = junction_current(&b->j, v[vcc] - lowest + t * log(sum), &g);
    double to_stack = share[gnd];

    /* Node k gives out current x share[k]; each high input also takes the reverse
     * transistor's current, reverse_beta x to_stack x current, and hands it to GND. */
    double reverse = b->reverse_beta * to_stack * current;
    i[vcc] += current;
    j[vcc][vcc] += g;
    for (int k = 0; k < all; k++) {
        i[k] -= current * share[k];
        j[k][vcc] -= g * share[k];
        j[vcc][k] -= g * share[k];
        for (int m = 0; m < all; m++) {
            double dshare = share[k] * (share[m] - (k == m)) / t;
            j[k][m] -= -g * share[m] * share[k] + current * dshare;
        }
    }
    for (int k = 0; k < b->count; k++) {
        if (curve[k])
            continue;
        i[k] += reverse;
        i[gnd] -= reverse;
        double dv = b->reverse_beta * to_stack * g;
        j[k][vcc] += dv;
        j[gnd][vcc] -= dv;
        for (int m = 0; m < all; m++) {
            double dshare = to_stack * (share[m] - (m == gnd)) / t;
            double d = b->reverse_beta * (-g * share[m] * to_stack + current * dshare);
            j[k][m] += d;
            j[gnd][m] -= d;
        }
    }
}

static void add_base(const struct chip *c, const struct base *b, struct base_memo *m, const double *v, double *i,
                     double (*j)[NODES])
{
    if (all_curves(c, b))
        return;
    const int count = b->count + 2;
    int node[MAX_SHARED + 2], curve[MAX_SHARED];
    double at[MAX_SHARED + 2], by[MAX_SHARED + 2];
    bool near = m->known && m->powered == c->powered;
    for (int k = 0; k < count; k++) {
        node[k] = k < b->count ? b->pins[k] : k == b->count ? b->gnd : b->vcc;
        at[k] = v[node[k]];
        by[k] = at[k] - m->v[k];
        near &= fabs(by[k]) <= c->memory->near_v;
    }
    if (!near) {
        for (int k = 0; k < b->count; k++)
            curve[k] = has_curve(c, b->pins[k]);
        memset(m->i, 0, sizeof m->i);
        memset(m->j, 0, sizeof *m->j * (size_t)count);
        memset(by, 0, sizeof by);
        memcpy(m->v, at, sizeof at);
        m->known = true;
        m->powered = c->powered;
        base_law(b, curve, at, m->i, m->j);
    }
    for (int k = 0; k < count; k++) {
        const double *slope = m->j[k];
        double current = m->i[k], *row = j[node[k]];
        for (int n = 0; n < count; n++) {
            current += slope[n] * by[n];
            row[node[n]] += slope[n];
        }
        i[node[k]] += current;
    }
}

/* Two saturated transistors in series carry about i_n i_p / (i_n + i_p). */
static double through_law(const void *what, double above_gnd, double below_vcc, double *dn, double *dp)
{
    const struct through *t = what;
    const double width = 0.06;
    double sn, sp;
    double on = width * softplus((above_gnd - t->vtn) / width, &sn);
    double op = width * softplus((below_vcc - t->vtp) / width, &sp);
    double in = 0.5 * t->kn * on * on + 1e-18, ip = 0.5 * t->kp * op * op + 1e-18;
    double total = in + ip;
    *dn = (ip / total) * (ip / total) * t->kn * on * sn;
    *dp = (in / total) * (in / total) * t->kp * op * sp;
    return in * ip / total;
}

static void add_through(const struct chip *c, const struct through *t, struct memo *m, const double *v, double *i,
                        double (*j)[NODES])
{
    double dn, dp, current = told(c, m, through_law, t, v[t->pin] - v[t->gnd], v[t->vcc] - v[t->pin], &dn, &dp);
    i[t->vcc] += current;
    i[t->gnd] -= current;
    j[t->vcc][t->pin] += dn - dp;
    j[t->gnd][t->pin] -= dn - dp;
    j[t->vcc][t->vcc] += dp;
    j[t->gnd][t->vcc] -= dp;
    j[t->vcc][t->gnd] -= dn;
    j[t->gnd][t->gnd] += dn;
}

static double sink_law(const void *what, double volts, double supply, double *gv, double *gs)
{
    const struct output *o = what;
    return o->bipolar ? sink_current(&o->sink, volts, supply, gv, gs) : channel_current(&o->n, volts, supply, gv, gs);
}

static double source_law(const void *what, double drop, double supply, double *g, double *gs)
{
    const struct output *o = what;
    *gs = 0;
    return o->bipolar ? pull_up_current(&o->up, drop, g) : channel_current(&o->p, drop, supply, g, gs);
}

static void add_sink(const struct chip *c, const struct output *o, struct memo *m, const double *v, double *i,
                     double (*j)[NODES])
{
    double gv, gs, current = told(c, m, sink_law, o, v[o->node] - v[o->gnd], v[o->vcc] - v[o->gnd], &gv, &gs);
    branch(o->node, o->gnd, current, gv, i, j);
    j[o->node][o->vcc] += gs;
    j[o->node][o->gnd] -= gs;
    j[o->gnd][o->vcc] -= gs;
    j[o->gnd][o->gnd] += gs;
}

static void add_source(const struct chip *c, const struct output *o, struct memo *m, const double *v, double *i,
                       double (*j)[NODES])
{
    /* a bipolar follower does not know GND */
    double g, gs, supply = o->bipolar ? 0 : v[o->vcc] - v[o->gnd];
    double current = told(c, m, source_law, o, v[o->vcc] - v[o->node], supply, &g, &gs);
    branch(o->vcc, o->node, current, g, i, j);
    j[o->vcc][o->vcc] += gs;
    j[o->vcc][o->gnd] -= gs;
    j[o->node][o->vcc] -= gs;
    j[o->node][o->gnd] += gs;
}

static double leak_law(const void *what, double v, double unused, double *g, double *gy)
{
    const struct leak *l = what;
    (void)unused, (void)gy;
    double t = l->t, left = exp(-fabs(v) / t), surface = 1 - l->junction_share;
    *g = l->amperes * (l->junction * left / t + surface / LEAK_FULL_V);
    return copysign(l->amperes * (l->junction * (1 - left) + surface * fabs(v) / LEAK_FULL_V), v);
}

static void add_output(const struct chip *c, const struct output *o, struct memo *m, const double *v, double *i,
                       double (*j)[NODES])
{
    const struct curve *curve = o->curve[o->state];
    if (curve) {
        double g;
        double current = curve_current(curve, v[o->node] - v[curve->rail], &g);
        branch(o->node, curve->rail, current, g, i, j);
        return;
    }
    if (o->state == STATE_LOW)
        add_sink(c, o, m, v, i, j);
    else if (o->state == STATE_HIGH && o->has_pull_up)
        add_source(c, o, m, v, i, j);
    else if (o->state == STATE_UNPOWERED && o->bipolar && o->has_pull_up)
        add_source(c, o, m, v, i, j);   /* phase splitter off: the follower's base is pulled up */
}

/* The emitters of one transistor: the lowest carries the curve's current, and at equal
 * voltages they share it. */
static void add_input_curve(const struct curve *curve, const double *v, double *i,
                            double (*j)[NODES])
{
    double lowest = v[curve->sharer[0]], sum = 0, share[MAX_SHARED], g;
    for (int k = 1; k < curve->sharers; k++)
        lowest = smaller(lowest, v[curve->sharer[k]]);
    for (int k = 0; k < curve->sharers; k++)
        sum += share[k] = exp(-(v[curve->sharer[k]] - lowest) / THERMAL_V);
    double at = lowest - THERMAL_V * log(sum);
    double current = curve_current(curve, at - v[curve->rail], &g);
    for (int k = 0; k < curve->sharers; k++)
        share[k] /= sum;
    i[curve->rail] -= current;
    j[curve->rail][curve->rail] += g;
    for (int k = 0; k < curve->sharers; k++) {
        int a = curve->sharer[k];
        i[a] += current * share[k];
        j[a][curve->rail] -= g * share[k];
        j[curve->rail][a] -= g * share[k];
        for (int m = 0; m < curve->sharers; m++)
            j[a][curve->sharer[m]] += share[k] * share[m] * g
                + current * share[k] * (share[m] - (k == m)) / THERMAL_V;
    }
}

static void add_supply(const struct chip *c, const double *v, double *i, double (*j)[NODES])
{
    double g, ge;
    double total = c->quiescent_a;
    for (int k = 0; k < c->outputs; k++)
        total += c->output[k].supply_a[c->output[k].state];
    double volts = v[c->vcc] - v[c->gnd];
    double current = total * supply_shape(volts, c->supply_on_v, &g);
    current += c->excess_a * supply_shape(volts, c->excess_on_v, &ge);
    branch(c->vcc, c->gnd, current, total * g + c->excess_a * ge, i, j);
}

void elements_currents(const struct chip *c, const double v[NODES], double i[NODES],
                       double j[NODES][NODES])
{
    double g, gy;
    struct memory *m = c->memory;
    m->used = true;
    for (int k = 0; k < c->diodes; k++) {
        const struct diode *d = &c->diode[k];
        double volts = v[d->a] - v[d->k];
        if (has_curve(c, d->a) || has_curve(c, d->k))
            continue;
        if (volts < -0.5) {              /* below 1e-13 A for every junction here */
            branch(d->a, d->k, 1e-13 * volts, 1e-13, i, j);
            continue;
        }
        double current = told(c, &m->diode[k], diode_law, d, volts, 0, &g, &gy);
        branch(d->a, d->k, current, g, i, j);
    }
    for (int k = 0; k < c->resistors; k++) {
        const struct resistor *r = &c->resistor[k];
        branch(r->a, r->b, (v[r->a] - v[r->b]) * r->siemens, r->siemens, i, j);
    }
    for (int k = 0; k < c->gates && c->powered; k++) {
        const struct gate *t = &c->gate[k];
        if (t->closed)
            branch(t->a, t->b, (v[t->a] - v[t->b]) * t->siemens, t->siemens, i, j);
    }
    for (int k = 0; k < c->leaks; k++) {
        const struct leak *l = &c->leak[k];
        double current = told(c, &m->leak[k], leak_law, l, v[l->a] - v[l->b], 0, &g, &gy);
        branch(l->a, l->b, current, g, i, j);
    }
    for (int k = 0; k < c->bases; k++)
        add_base(c, &c->base[k], &m->base[k], v, i, j);
    for (int k = 0; k < c->throughs; k++)
        add_through(c, &c->through[k], &m->through[k], v, i, j);
    for (int k = 0; k < c->outputs; k++)
        add_output(c, &c->output[k], &m->output[k], v, i, j);
    for (int k = 1; k < NODES && c->curves; k++)
        if (has_curve(c, k) && c->input_curve[k]->sharer[0] == k)
            add_input_curve(c->input_curve[k], v, i, j);
    for (int k = 0; k < c->timers; k++)
        add_timer(c, &c->timer[k], v, i, j);
    if (c->vcc && c->gnd)
        add_supply(c, v, i, j);
}
