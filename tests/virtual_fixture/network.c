/* network.c: moments: what the passing of time changes, and when the network is solved.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "network.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "factors.h"

#define CHIP_TICK_S 1e-3   /* how often a powered chip is shown the clock */
#define LEVEL_STEP_V 1e-4

static bool switched(const struct network *net, int number, bool enabled, bool on_at)
{
    if (number < 0 || (net->sp.gated[number / 8] && !enabled))
        return false;
    return chain_output(net, number) == on_at;
}

static unsigned address(const struct network *net, const int32_t bits[3])
{
    unsigned a = 0;
    for (int i = 0; i < 3; i++)
        a |= (unsigned)chain_output(net, bits[i]) << i;
    return a;
}

static bool any(const uint8_t on[SEATS])
{
    for (int k = 1; k < SEATS; k++)
        if (on[k])
            return true;
    return false;
}

static void gather_lines(const struct network *net, struct drive *d)
{
    const struct specimen *sp = &net->sp;
    for (int k = 1; k < SEATS; k++) {
        d->strong[k] = (uint8_t)network_line(net, sp->strong_pin[k]);
        d->medium[k] = (uint8_t)network_line(net, sp->medium_pin[k]);
    }
    d->ld = (uint8_t)network_line(net, sp->ld_pin);
    d->lamp = 0;
    for (int n = 0; n < net->shape.carriers; n++) {
        int p = net->shape.carrier[n];
        if (sp->pin_net[p] == NET_LAMP)
            d->lamp = network_line(net, p) == LINE_HIGH;
    }
}

static void gather_switches(const struct network *net, struct drive *d)
{
    const struct specimen *sp = &net->sp;
    for (int k = 1; k < SEATS; k++) {
        d->supply[k] = switched(net, sp->supply_bit[k], net->was_enabled, false);
        d->ground[k] = switched(net, sp->ground_bit[k], net->was_enabled, true);
    }
    d->load = (uint8_t)address(net, sp->load_bit);
}

static void gather_ties(const struct network *net, struct drive *d)
{
    const struct specimen *sp = &net->sp;
    unsigned a = address(net, sp->sense_bit);
    for (int m = 0; m < MUXES; m++) {
        enum line inh = network_line(net, sp->inh_pin[m]); /* pulled high unless driven low */
        d->tied[m] = inh == LINE_LOW && sp->sense_position[m][a] ? (uint8_t)(a + 1) : 0;
    }
}

/* What has turned since the last time, and what is always looked at. */
static void gather(struct network *net, struct drive *d)
{
    const struct specimen *sp = &net->sp;
    struct drive *g = &net->gathered;
    bool enabled = deadman_enabled(net);
    if (net->ports_turned)
        gather_lines(net, g);
    if (net->chain_turned || enabled != net->was_enabled) {
        net->was_enabled = enabled;
        gather_switches(net, g);
    }
    if (net->ports_turned || net->chain_turned)
        gather_ties(net, g);
    net->ports_turned = net->chain_turned = false;
    g->chip_serial = net->chip_serial;
    g->usb_v = net->drive.usb_v;
    g->level_v = sp->load_kind[g->load] == LOAD_VDAC ? net->drive.level_v : 0; /* follow() */
    *d = *g;
}

double network_icc_v(const struct network *net, double vbus, double v5)
{
    const struct specimen *sp = &net->sp;
    double v = (v5 - vbus - sp->icc_offset_v) / sp->icc_in_ohm * sp->icc_alpha * sp->icc_out_ohm;
    return smaller(larger(v, 0), vbus - sp->icc_headroom_v);
}

/* When the comparator, looking at a supply current that is still growing, will trip. */
static void trip(struct network *net)
{
    const struct specimen *sp = &net->sp;
    struct deadman *d = &net->deadman;
    double share = sp->trip_lower_ohm / (sp->trip_upper_ohm + sp->trip_lower_ohm);
    double limit = net->target[N_V5] * share + sp->trip_offset_v;
    double end = network_icc_v(net, net->target[N_VBUS], net->target[N_V5]);
    if (end <= limit || net->trip_disabled || net->sp.trip_fault == FAULT_OPEN) {
        d->trip_at = NEVER;
        d->tripped = false;
    } else if (!d->tripped && d->trip_at == NEVER) {
        double from = network_icc_v(net, net->start[N_VBUS], net->start[N_V5]);
        double wait = from >= limit ? 0 : net->tau[N_VBUS] * log((end - from) / (end - limit));
        d->trip_at = net->now + wait + sp->trip_delay_s;
    }
}

static double approached(const struct network *net, int n, double t)
{
    double dt = t - net->since;
    if (dt > 25 * net->tau[n])
        return net->target[n];
    return net->target[n] + (net->start[n] - net->target[n]) * exp(-dt / net->tau[n]);
}

/* What moves by itself and is followed only when somebody looks. */
void network_bring_up(struct network *net)
{
    deadman_advance(net, net->now);
    level_advance(net, net->now);
}

void network_apply(struct network *net, bool force)
{
    for (int turn = 0; turn < 4; turn++) { /* a trip or a rail change may switch again */
        struct drive d;
        if (turn && net->was_enabled == deadman_enabled(net)) { /* nothing else hangs on a solution */
            net->skipped++;
            return;
        }
        gather(net, &d);
        if (!force && !memcmp(&d, &net->drive, sizeof d)) {
            net->skipped++;
            return;
        }
        force = false;
        network_bring_up(net);
        for (int n = 0; n < NODES; n++)
            net->start[n] = approached(net, n, net->now);
        net->since = net->now;
        if (net->sp.load_kind[d.load] == LOAD_VDAC)
            d.level_v = net->level.f2;
        net->power_ups += any(d.supply) && !any(net->drive.supply);
        net->drive = d;
        solve(net);
        trip(net);
        deadman_refresh(net);
        watch_solution(net);
    }
}

bool network_powered(const struct network *net)
{
    return any(net->drive.supply);
}

static bool chip_moves(struct network *net)
{
    double v[SEATS] = {0};
    if (!net->ops)
        return false;
    memcpy(v + 1, net->target, CHIP_POSITIONS * sizeof *v);
    return terminals_settle(net, v);
}

/* The level drive moves, and with it node K and the chip; solved anew after more than `exact_v`. */
static void follow(struct network *net, double exact_v)
{
    double foretold[NODES];
    if (net->sp.load_kind[net->drive.load] != LOAD_VDAC)
        return;
    level_advance(net, net->now);
    if (net->level.f2 == net->slide.at_v)
        return;
    if (slide_on(net) || fabs(net->level.f2 - net->drive.level_v) > exact_v) {
        memcpy(foretold, net->target, sizeof foretold);
        network_apply(net, true);
        slide_learn(net, foretold);
    } else if (chip_moves(net)) {
        network_apply(net, true);
    }
}

static bool needs_tick(const struct network *net)
{
    return net->ops != NULL || net->watch.shorted ||
           (net->sp.load_kind[net->drive.load] == LOAD_VDAC && level_moving(net));
}

static double tick_length(const struct network *net)
{
    bool moving = net->sp.load_kind[net->drive.load] == LOAD_VDAC && level_moving(net);
    return moving ? LEVEL_TICK_S : CHIP_TICK_S;
}

double network_wake_at(const struct network *net)
{
    return net->wake;
}

/* After anything that was done: when will something happen by itself? */
void network_reschedule(struct network *net)
{
    double t = smaller(deadman_release_at(net), terminals_wait(net));
    if (!net->deadman.tripped)
        t = smaller(t, net->deadman.trip_at);
    if (needs_tick(net)) {
        net->next_tick = smaller(net->next_tick, net->now + tick_length(net));
        t = smaller(t, net->next_tick);
    }
    net->wake = larger(t, net->now);
}

static void tick(struct network *net)
{
    net->next_tick = net->now + tick_length(net);
    follow(net, NEVER);
    network_apply(net, chip_moves(net));
    watch_solution(net);
}

/* Let time pass to t, with everything that happens by itself meanwhile. */
void network_advance(struct network *net, double t)
{
    while (net->wake <= t) {
        net->now = net->wake;
        network_bring_up(net);
        if (needs_tick(net) && net->now >= net->next_tick)
            tick(net);
        else
            network_apply(net, terminals_act(net));
        network_reschedule(net);
        if (net->now >= t)
            break;
    }
    net->now = larger(t, net->now);
}

void network_look(struct network *net, double t)
{
    network_advance(net, t);
    if (net->sp.load_kind[net->drive.load] != LOAD_VDAC)
        return;
    follow(net, NEVER);
    network_reschedule(net);
}

void network_follow(struct network *net, double t)
{
    network_advance(net, t);
    network_bring_up(net);
    follow(net, LEVEL_STEP_V);
    network_reschedule(net);
}

void network_set_usb(struct network *net, double volts, double t)
{
    network_advance(net, t);
    net->sp.usb_v = volts;
    net->drive.usb_v = volts;
    network_apply(net, true);
    network_reschedule(net);
}

/* Other values for the parts; what the nodes, registers and capacitors hold stays. */
void network_specimen(struct network *net, const struct specimen *specimen, double t)
{
    double usb_v = net->sp.usb_v;
    network_follow(net, t);
    net->sp = *specimen;
    net->sp.usb_v = usb_v;
    pins_shape(net);
    net->ports_turned = net->chain_turned = true;
    recall_forget(net);
    network_apply(net, true);
    network_reschedule(net);
}

void network_refresh(struct network *net, double t)
{
    network_advance(net, t);
    recall_forget(net);
    network_apply(net, true);
    network_reschedule(net);
}

void network_chip(struct network *net, const struct chip_ops *ops, struct chip *chip)
{
    net->ops = ops;
    net->chip = chip;
    memset(net->chip_a, 0, sizeof net->chip_a);
    terminals_chip(net);
    net->watch.rails = (struct rails){0};
    net->chip_serial++;
    net->waiting = false;
    recall_forget(net);
    network_apply(net, true);
    network_reschedule(net);
}

double network_node(const struct network *net, int node, double t)
{
    return approached(net, node, t);
}

struct network *network_new(const struct specimen *specimen)
{
    struct network *net = calloc(1, sizeof *net);
    if (net)
        net->factors = factors_new();
    if (!net || !net->factors) {
        free(net);
        return NULL;
    }
    net->sp = *specimen;
    pins_shape(net);
    net->ports_turned = net->chain_turned = true;
    net->adc.reference = -1;
    net->drive.usb_v = specimen->usb_v;
    net->target[N_VBUS] = net->target[N_V5] = specimen->usb_v;
    net->target[N_VREF] = smaller(specimen->reference_v, specimen->usb_v);
    memcpy(net->start, net->target, sizeof net->start);
    for (int n = 0; n < NODES; n++)
        net->tau[n] = 1e-9;
    for (int n = 0; n < NODES; n++)
        net->seen_high[n] = net->seen_low[n] = -9; /* never */
    deadman_reset(net);
    chain_reset(net);
    network_apply(net, true);
    network_reschedule(net);
    memcpy(net->start, net->target, sizeof net->start);
    return net;
}

void network_free(struct network *net)
{
    recall_forget(net);
    free(net->factors);
    free(net);
}
