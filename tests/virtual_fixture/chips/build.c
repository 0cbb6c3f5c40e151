/* build.c: how Python puts a chip together, element by element.
 *
 * Every chip_add_* returns an index, or -1 when there is no room.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include "engine.h"

struct chip *chip_new(int vcc, int gnd, logic_fn logic)
{
    struct chip *c = calloc(1, sizeof *c);
    struct memory *memory = calloc(1, sizeof *memory);
    if (!c || !memory) {
        free(c);
        free(memory);
        return NULL;
    }
    c->memory = memory;
    c->vcc = vcc;
    c->gnd = gnd;
    c->logic = logic;
    return c;
}

void chip_free(struct chip *c)
{
    if (!c)
        return;
    for (int k = 0; k < c->outputs; k++)
        for (int s = 0; s < STATES; s++)
            free(c->output[k].curve[s]);
    for (int k = 0; k < NODES; k++)
        if (c->input_curve[k] && c->input_curve[k]->sharer[0] == k)
            free(c->input_curve[k]);
    free(c->answers);
    free(c->memory);
    free(c);
}

/* Which the logic reads and writes: see struct place. */
struct place *chip_place(struct chip *c)
{
    return &c->place;
}

/* Parameters change: what elements gave before is no more. */
static void forget(struct chip *c)
{
    if (c->memory->used)
        memset(c->memory, 0, sizeof *c->memory);
}

int chip_add_diode(struct chip *c, int a, int k, double vf, double n, double ohm)
{
    if (c->diodes == MAX_ELEMENTS)
        return -1;
    c->diode[c->diodes] = (struct diode){a, k, junction(vf, n, ohm)};
    return c->diodes++;
}

int chip_add_resistor(struct chip *c, int a, int b, double ohm)
{
    if (c->resistors == MAX_ELEMENTS)
        return -1;
    c->resistor[c->resistors] = (struct resistor){a, b, 1.0 / ohm};
    return c->resistors++;
}

/* A switch between two nodes, closed by bit `pin` of the logic's answer. */
int chip_add_switch(struct chip *c, int pin, int a, int b, double ohm)
{
    if (c->gates == NODES)
        return -1;
    c->gate[c->gates] = (struct gate){.pin = pin, .a = a, .b = b, .siemens = 1.0 / ohm};
    return c->gates++;
}

int chip_add_leak(struct chip *c, int a, int b, double amperes, double junction_share, double n)
{
    if (c->leaks == MAX_ELEMENTS)
        return -1;
    double t = n * THERMAL_V;
    c->leak[c->leaks] = (struct leak){a, b, amperes, junction_share, n, t, junction_share / (1 - exp(-LEAK_FULL_V / t))};
    return c->leaks++;
}

int chip_add_base(struct chip *c, int count, const int *nodes, double ohm, double vf, double n,
                  double steer_v, double reverse_beta)
{
    if (c->bases == MAX_ELEMENTS || count > MAX_SHARED)
        return -1;
    struct base *b = &c->base[c->bases];
    *b = (struct base){.vcc = c->vcc, .gnd = c->gnd, .count = count, .j = junction(vf, n, ohm),
                       .steer_v = steer_v, .reverse_beta = reverse_beta};
    memcpy(b->pins, nodes, (size_t)count * sizeof *nodes);
    return c->bases++;
}

int chip_add_through(struct chip *c, int node, double kn, double vtn, double kp, double vtp)
{
    if (c->throughs == MAX_ELEMENTS)
        return -1;
    c->through[c->throughs] = (struct through){node, c->vcc, c->gnd, kn, vtn, kp, vtp};
    return c->throughs++;
}

int chip_add_input(struct chip *c, int pin, int node, double threshold, double hysteresis,
                   double fraction, int forced)
{
    if (c->inputs == NODES)
        return -1;
    c->input[c->inputs] = (struct input){.pin = pin, .node = node, .forced = forced,
                                         .threshold = threshold, .hysteresis = hysteresis,
                                         .fraction = fraction};
    return c->inputs++;
}

int chip_add_output(struct chip *c, int pin, int node, int bipolar, int has_pull_up, int forced)
{
    if (c->outputs == NODES)
        return -1;
    c->output[c->outputs] = (struct output){.pin = pin, .node = node, .vcc = c->vcc,
        .gnd = c->gnd, .bipolar = bipolar, .has_pull_up = has_pull_up, .forced = forced,
        .state = STATE_UNPOWERED};
    return c->outputs++;
}

/* cx: the pin for the capacitor's other end if the cell moves it, else 0. */
int chip_add_timer(struct chip *c, int node, int cx, int coupled, int endless)
{
    if (c->timers == MAX_TIMERS)
        return -1;
    c->timer[c->timers] = (struct timer){.node = node, .cx = cx, .coupled = coupled,
                                         .endless = endless};
    return c->timers++;
}

/* Named parameters, so that Python need not mirror the structures. */
struct name {
    const char *name;
    size_t offset;
};
#define SINK(f) {"sink_" #f, offsetof(struct output, sink.f)}
#define UP(f) {"up_" #f, offsetof(struct output, up.f)}
static const struct name output_names[] = {
    SINK(sat_v), SINK(sat_n), SINK(sat_a), SINK(ohm), SINK(drive_a), SINK(drive_v),
    SINK(beta), SINK(early_v),
    UP(ohm), UP(base_ohm), UP(vbe), UP(n), UP(diode_v), UP(diode_n), UP(shunt_ohm),
    UP(sat_v), UP(extra_ohm),
    {"n_k", offsetof(struct output, n.k)}, {"n_vt", offsetof(struct output, n.vt)},
    {"n_lambda", offsetof(struct output, n.lambda)},
    {"p_k", offsetof(struct output, p.k)}, {"p_vt", offsetof(struct output, p.vt)},
    {"p_lambda", offsetof(struct output, p.lambda)},
    {"supply_low", offsetof(struct output, supply_a[STATE_LOW])},
    {"supply_high", offsetof(struct output, supply_a[STATE_HIGH])},
    {"supply_off", offsetof(struct output, supply_a[STATE_OFF])},
    {"sink_max", offsetof(struct output, sink_max_a)},
    {"source_max", offsetof(struct output, source_max_a)},
    {"supply_unpowered", offsetof(struct output, supply_a[STATE_UNPOWERED])},
};
#define TIMER(f) {#f, offsetof(struct timer, f)}
static const struct name timer_names[] = {
    TIMER(low_v), TIMER(low_share), TIMER(high_v), TIMER(high_share), TIMER(on_ohm), TIMER(floor_v),
    TIMER(up_ohm), TIMER(delay_s), TIMER(stray_f), TIMER(factor), TIMER(base.vf),
    TIMER(base.n), TIMER(base.ohm),
};
#define CHIP(f) {#f, offsetof(struct chip, f)}
static const struct name chip_names[] = {
    CHIP(supply_on_v), CHIP(quiescent_a), CHIP(excess_a), CHIP(excess_on_v),
    CHIP(logic_on_v), CHIP(logic_off_v),
    CHIP(rating.in_max_v), CHIP(rating.in_above_vcc_v), CHIP(rating.clamp_a),
    CHIP(rating.supply_v), CHIP(rating.reverse_a),
};

static int set(void *base, const struct name *names, size_t count, const char *name, double value)
{
    for (size_t k = 0; k < count; k++)
        if (strcmp(names[k].name, name) == 0) {
            memcpy((char *)base + names[k].offset, &value, sizeof value);
            return 0;
        }
    return -1;
}

int chip_set_output(struct chip *c, int index, const char *name, double value)
{
    forget(c);
    return set(&c->output[index], output_names, sizeof output_names / sizeof *output_names,
               name, value);
}

int chip_set_timer(struct chip *c, int index, const char *name, double value)
{
    struct timer *t = &c->timer[index];
    int unknown = set(t, timer_names, sizeof timer_names / sizeof *timer_names, name, value);
    t->base = junction(t->base.vf, t->base.n, t->base.ohm);
    return unknown;
}

int chip_set(struct chip *c, const char *name, double value)
{
    forget(c);
    return set(c, chip_names, sizeof chip_names / sizeof *chip_names, name, value);
}

/* The input at a node follows its pin with this time constant. */
void chip_set_lag(struct chip *c, int node, double seconds)
{
    for (int k = 0; k < c->inputs; k++)
        if (c->input[k].node == node)
            c->lags |= (c->input[k].lag_s = seconds) > 0;
}

void chip_set_series(struct chip *c, int node, double ohm)
{
    c->series_ohm[node] = ohm;
}

/* A curve for one state of an output; with index -1, for the input at `node`. */
int chip_add_curve(struct chip *c, int index, int node, int state, int rail, int count,
                   const double *volts, const double *amperes)
{
    struct curve *curve = calloc(1, sizeof *curve);
    if (!curve || count < 2 || count > MAX_POINTS || (index < 0 && c->input_curve[node])) {
        free(curve);
        return -1;
    }
    curve->count = count;
    curve->rail = rail;
    memcpy(curve->volts, volts, (size_t)count * sizeof *volts);
    memcpy(curve->amperes, amperes, (size_t)count * sizeof *amperes);
    struct curve **place = index < 0 ? &c->input_curve[node] : &c->output[index].curve[state];
    c->curves |= index < 0;
    free(*place);
    *place = curve;
    curve->sharers = 1;
    curve->sharer[0] = node;
    return 0;
}

/* The input at `other` shares the curve of the one at `node`. */
int chip_share_curve(struct chip *c, int node, int other)
{
    struct curve *curve = c->input_curve[node];
    if (!curve || curve->sharers == MAX_SHARED || c->input_curve[other])
        return -1;
    curve->sharer[curve->sharers++] = other;
    c->input_curve[other] = curve;
    c->curves = true;
    return 0;
}

/* For tests: the state of an output, and forcing one without the logic. */
int chip_output_state(const struct chip *c, int index)
{
    return c->output[index].state;
}

void chip_force_state(struct chip *c, int index, int state)
{
    c->output[index].state = (enum state)state;
}
