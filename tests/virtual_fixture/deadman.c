/* deadman.c: pump, store, enable transistor and over-current trip.
 *
 * Two diodes and two capacitors: a rising PUMP edge moves charge from the coupling
 * into the store capacitor, a falling one recharges the coupling capacitor.  The
 * store discharges through its resistor and the base of the enable transistor; while
 * PUMP stays high the coupling capacitor goes on feeding it. All are exponentials, one
 * after the other, so the moment at which OE_N lets go is known in closed form.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "network.h"

void deadman_reset(struct network *net)
{
    net->deadman = (struct deadman){.at = net->now, .trip_at = NEVER};
}

static double rail(const struct network *net)
{
    return net->target[N_V5];
}

/* Store voltage at which the enable transistor just holds OE_N at the threshold. */
static double enough_v(const struct network *net)
{
    const struct specimen *sp = &net->sp;
    double collector_a = rail(net) * (1 - sp->enable_threshold) / sp->enable_pull_ohm;
    return sp->enable_base_v + sp->enable_base_ohm * collector_a / sp->enable_beta;
}

static double trip_a(const struct network *net)
{
    return net->sp.trip_beta * (rail(net) - 0.7) / net->sp.trip_base_ohm;
}

/* Below this store voltage the coupling capacitor's diode conducts: for good while PUMP is high. */
static double fed_below(const struct network *net)
{
    const struct deadman *d = &net->deadman;
    return d->pump_high ? rail(net) - d->couple_v - net->sp.pump_diode_v : -1;
}

/* One exponential of the discharge: from where it is, what it would end at, and where another begins. */
struct stretch {
    double tau, end_v, until_v;
    bool fed;
};

static struct stretch stretch(const struct network *net, double v)
{
    const struct specimen *sp = &net->sp;
    double fed_v = fed_below(net), g = 1 / sp->pump_leak_ohm;
    struct stretch s = {.fed = v <= fed_v + 1e-9};
    if (!s.fed)
        s.until_v = larger(0, fed_v);
    if (v > sp->enable_base_v) {
        g += 1 / sp->enable_base_ohm;
        s.end_v = sp->enable_base_v / sp->enable_base_ohm / g;
        s.until_v = larger(s.until_v, sp->enable_base_v);
    }
    s.tau = (sp->pump_store_f + (s.fed ? sp->pump_couple_f : 0)) / g;
    return s;
}

static double takes_s(const struct stretch *s, double from_v, double to_v)
{
    return to_v > s->end_v ? s->tau * log((from_v - s->end_v) / (to_v - s->end_v)) : NEVER;
}

static double tripped_farads(const struct network *net)
{
    const struct deadman *d = &net->deadman;
    return net->sp.pump_store_f + (d->alive_v <= fed_below(net) + 1e-9 ? net->sp.pump_couple_f : 0);
}

/* The store falls; the coupling capacitor with it while it feeds. */
static void fall(struct network *net, double to_v, bool fed)
{
    struct deadman *d = &net->deadman;
    if (fed)
        d->couple_v += d->alive_v - to_v;
    d->alive_v = to_v;
}

static void discharge(struct network *net, double dt)
{
    struct deadman *d = &net->deadman;
    if (d->tripped) {
        double farads = tripped_farads(net), to_v = larger(0.05, d->alive_v - dt * trip_a(net) / farads);
        fall(net, smaller(d->alive_v, to_v), farads > net->sp.pump_store_f);
        return;
    }
    while (dt > 0 && d->alive_v > 0) {
        struct stretch s = stretch(net, d->alive_v);
        double whole = takes_s(&s, d->alive_v, s.until_v);
        fall(net, dt < whole ? s.end_v + (d->alive_v - s.end_v) * exp(-dt / s.tau) : s.until_v, s.fed);
        dt -= whole;
    }
}

void deadman_advance(struct network *net, double t)
{
    struct deadman *d = &net->deadman;
    if (d->trip_at <= t && !d->tripped) {
        discharge(net, larger(0, d->trip_at - d->at));
        d->at = larger(d->at, d->trip_at);
        d->tripped = true;
        discharge(net, larger(0, t - d->at));
        d->at = t;
        deadman_refresh(net);
        return;
    }
    discharge(net, t - d->at);
    d->at = t;
}

void deadman_pump(struct network *net, bool high, double t)
{
    struct deadman *d = &net->deadman;
    const struct specimen *sp = &net->sp;
    if (high == d->pump_high)
        return;
    deadman_advance(net, t);
    d->pump_high = high;
    double out = high ? rail(net) : 0, node = out - d->couple_v;
    if (node > d->alive_v + sp->pump_diode_v) {
        double share = sp->pump_couple_f / (sp->pump_couple_f + sp->pump_store_f);
        d->alive_v += (node - sp->pump_diode_v - d->alive_v) * share;
        d->couple_v = out - d->alive_v - sp->pump_diode_v;
    } else if (node < -sp->pump_diode_v) {
        d->couple_v = out + sp->pump_diode_v;
    }
    deadman_refresh(net);
}

/* When OE_N will go high if PUMP keeps still from now on. */
static double release(const struct network *net)
{
    const struct deadman *d = &net->deadman;
    double enough = enough_v(net), v = d->alive_v, t = d->at + 1e-9;
    if (d->tripped)
        return t + (v - enough) * tripped_farads(net) / trip_a(net);
    while (v > enough) {
        struct stretch s = stretch(net, v);
        double next = larger(enough, s.until_v);
        t += takes_s(&s, v, next);
        v = next;
    }
    return t;
}

/* The state is that of d->at, whenever that was; what follows from it holds until the next change. */
void deadman_refresh(struct network *net)
{
    struct deadman *d = &net->deadman;
    if (net->sp.enable_fault) {
        d->on = net->sp.enable_fault == FAULT_SHORT;
        d->release_at = NEVER;
        return;
    }
    d->on = d->alive_v > enough_v(net) + 1e-9;
    d->release_at = d->on ? release(net) : NEVER;
}

bool deadman_enabled(const struct network *net)
{
    return net->deadman.on && net->now < net->deadman.release_at;
}

double deadman_release_at(const struct network *net)
{
    return deadman_enabled(net) ? net->deadman.release_at : NEVER;
}

double deadman_oe_v(const struct network *net)
{
    const struct specimen *sp = &net->sp;
    if (sp->enable_fault)
        return sp->enable_fault == FAULT_SHORT ? 0.05 : rail(net);
    double base_a = larger(0, net->deadman.alive_v - sp->enable_base_v) / sp->enable_base_ohm;
    return larger(0.05, rail(net) - sp->enable_pull_ohm * base_a * sp->enable_beta);
}
