/* elements.c: every element's contribution to currents and slopes.
 *
 * A two-terminal element adds +I at one node and -I at the other, a three-terminal
 * one balances its own terminals: so the chip's currents always sum to zero.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include "engine.h"

/* I flows from a to b and depends on v[a] - v[b]. */
void branch(int a, int b, double current, double g, double *i, double (*j)[NODES])
{
    i[a] += current;
    i[b] -= current;
    j[a][a] += g;
    j[b][b] += g;
    j[a][b] -= g;
    j[b][a] -= g;
}

/* A curve stands for all of an input while the chip is powered. */
static int has_curve(const struct chip *c, int node)
{
    return c->powered && c->input_curve[node];
}

static int all_curves(const struct chip *c, const struct base *b)
{
    for (int k = 0; k < b->count; k++)
        if (!has_curve(c, b->pins[k]))
            return 0;
    return 1;
}

static void add_base(const struct chip *c, const struct base *b, const double *v, double *i,
                     double (*j)[NODES])
{
    const double out_of_the_way = 100.0;   /* volts of an input that takes no share */
    if (all_curves(c, b))
        return;
    double t = b->j.n * THERMAL_V;
    double stack = v[b->gnd] + b->steer_v;
    double lowest = stack;
    double at[MAX_SHARED + 1], share[MAX_SHARED + 1];
    int node[MAX_SHARED + 1], all = b->count + 1;
    for (int k = 0; k < b->count; k++) {
        at[k] = has_curve(c, b->pins[k]) ? out_of_the_way : v[b->pins[k]];
        lowest = fmin(lowest, at[k]);
    }
    at[b->count] = stack;
    node[b->count] = b->gnd;
    double sum = share[b->count] = exp(-(stack - lowest) / t);
    for (int k = 0; k < b->count; k++) {
        node[k] = b->pins[k];
        share[k] = exp(-(at[k] - lowest) / t);
        sum += share[k];
    }
    for (int k = 0; k < all; k++)
        share[k] /= sum;
    double g;
    double current = junction_current(&b->j, v[b->vcc] - lowest + t * log(sum), &g);
    double to_stack = share[b->count];

    /* Node k gives out current x share[k]; each high input also takes the reverse
     * transistor's current, reverse_beta x to_stack x current, and hands it to GND. */
    double reverse = b->reverse_beta * to_stack * current;
    i[b->vcc] += current;
    j[b->vcc][b->vcc] += g;
    for (int k = 0; k < all; k++) {
        i[node[k]] -= current * share[k];
        j[node[k]][b->vcc] -= g * share[k];
        j[b->vcc][node[k]] -= g * share[k];
        for (int m = 0; m < all; m++) {
            double dshare = share[k] * (share[m] - (k == m)) / t;
            j[node[k]][node[m]] -= -g * share[m] * share[k] + current * dshare;
        }
    }
    for (int k = 0; k < b->count; k++) {
        if (has_curve(c, node[k]))
            continue;
        i[node[k]] += reverse;
        i[b->gnd] -= reverse;
        double dv = b->reverse_beta * to_stack * g;
        j[node[k]][b->vcc] += dv;
        j[b->gnd][b->vcc] -= dv;
        for (int m = 0; m < all; m++) {
            double dshare = to_stack * (share[m] - (m == b->count)) / t;
            double d = b->reverse_beta * (-g * share[m] * to_stack + current * dshare);
            j[node[k]][node[m]] += d;
            j[b->gnd][node[m]] -= d;
        }
    }
}

/* Two saturated transistors in series carry about i_n i_p / (i_n + i_p). */
static void add_through(const struct through *t, const double *v, double *i, double (*j)[NODES])
{
    const double width = 0.06;
    double sn, sp;
    double on = width * softplus((v[t->pin] - v[t->gnd] - t->vtn) / width, &sn);
    double op = width * softplus((v[t->vcc] - v[t->pin] - t->vtp) / width, &sp);
    double in = 0.5 * t->kn * on * on + 1e-18, ip = 0.5 * t->kp * op * op + 1e-18;
    double total = in + ip;
    double current = in * ip / total;
    double dn = (ip / total) * (ip / total) * t->kn * on * sn;
    double dp = (in / total) * (in / total) * t->kp * op * sp;
    i[t->vcc] += current;
    i[t->gnd] -= current;
    j[t->vcc][t->pin] += dn - dp;
    j[t->gnd][t->pin] -= dn - dp;
    j[t->vcc][t->vcc] += dp;
    j[t->gnd][t->vcc] -= dp;
    j[t->vcc][t->gnd] -= dn;
    j[t->gnd][t->gnd] += dn;
}

static void add_sink(const struct output *o, const double *v, double *i, double (*j)[NODES])
{
    double gv, gs;
    double supply = v[o->vcc] - v[o->gnd], volts = v[o->node] - v[o->gnd];
    double current = o->bipolar ? sink_current(&o->sink, volts, supply, &gv, &gs)
                                : channel_current(&o->n, volts, supply, &gv, &gs);
    branch(o->node, o->gnd, current, gv, i, j);
    j[o->node][o->vcc] += gs;
    j[o->node][o->gnd] -= gs;
    j[o->gnd][o->vcc] -= gs;
    j[o->gnd][o->gnd] += gs;
}

static void add_source(const struct output *o, const double *v, double *i, double (*j)[NODES])
{
    double g, gs = 0;
    double drop = v[o->vcc] - v[o->node];
    double current = o->bipolar
        ? pull_up_current(&o->up, drop, &g)
        : channel_current(&o->p, drop, v[o->vcc] - v[o->gnd], &g, &gs);
    branch(o->vcc, o->node, current, g, i, j);
    j[o->vcc][o->vcc] += gs;
    j[o->vcc][o->gnd] -= gs;
    j[o->node][o->vcc] -= gs;
    j[o->node][o->gnd] += gs;
}

static double leak_current(const struct leak *l, double v, double *g)
{
    const double full_v = 5.0;
    double t = l->n * THERMAL_V, left = exp(-fabs(v) / t), surface = 1 - l->junction_share;
    double junction = l->junction_share / (1 - exp(-full_v / t));
    *g = l->amperes * (junction * left / t + surface / full_v);
    return copysign(l->amperes * (junction * (1 - left) + surface * fabs(v) / full_v), v);
}

static void add_output(const struct output *o, const double *v, double *i, double (*j)[NODES])
{
    const struct curve *curve = o->curve[o->state];
    if (curve) {
        double g;
        double current = curve_current(curve, v[o->node] - v[curve->rail], &g);
        branch(o->node, curve->rail, current, g, i, j);
        return;
    }
    if (o->state == STATE_LOW)
        add_sink(o, v, i, j);
    else if (o->state == STATE_HIGH && o->has_pull_up)
        add_source(o, v, i, j);
    else if (o->state == STATE_UNPOWERED && o->bipolar && o->has_pull_up)
        add_source(o, v, i, j);   /* phase splitter off: the follower's base is pulled up */
}

/* The emitters of one transistor: the lowest carries the curve's current, and at equal
 * voltages they share it. */
static void add_input_curve(const struct curve *curve, const double *v, double *i,
                            double (*j)[NODES])
{
    double lowest = v[curve->sharer[0]], sum = 0, share[MAX_SHARED], g;
    for (int k = 1; k < curve->sharers; k++)
        lowest = fmin(lowest, v[curve->sharer[k]]);
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
    double g;
    for (int k = 0; k < c->diodes; k++) {
        const struct diode *d = &c->diode[k];
        double volts = v[d->a] - v[d->k];
        if (has_curve(c, d->a) || has_curve(c, d->k))
            continue;
        if (volts < -0.5) {              /* below 1e-13 A for every junction here */
            branch(d->a, d->k, 1e-13 * volts, 1e-13, i, j);
            continue;
        }
        double current = junction_current(&d->j, volts, &g);
        branch(d->a, d->k, current + 1e-13 * volts, g + 1e-13, i, j);
    }
    for (int k = 0; k < c->resistors; k++) {
        const struct resistor *r = &c->resistor[k];
        branch(r->a, r->b, (v[r->a] - v[r->b]) * r->siemens, r->siemens, i, j);
    }
    for (int k = 0; k < c->leaks; k++) {
        const struct leak *l = &c->leak[k];
        double current = leak_current(l, v[l->a] - v[l->b], &g);
        branch(l->a, l->b, current, g, i, j);
    }
    for (int k = 0; k < c->bases; k++)
        add_base(c, &c->base[k], v, i, j);
    for (int k = 0; k < c->throughs; k++)
        add_through(&c->through[k], v, i, j);
    for (int k = 0; k < c->outputs; k++)
        add_output(&c->output[k], v, i, j);
    for (int k = 1; k < NODES; k++)
        if (has_curve(c, k) && c->input_curve[k]->sharer[0] == k)
            add_input_curve(c->input_curve[k], v, i, j);
    for (int k = 0; k < c->timers; k++)
        add_timer(c, &c->timer[k], v, i, j);
    if (c->vcc && c->gnd)
        add_supply(c, v, i, j);
}
