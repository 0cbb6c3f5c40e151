/* deadman.c: pump, store, enable transistor and over-current trip.
 *
 * Two diodes and two capacitors: a rising PUMP edge moves charge from the coupling
 * into the store capacitor, a falling one recharges the coupling capacitor.  The
 * store discharges through its resistor and the base of the enable transistor; both
 * are exponentials, so the moment at which OE_N lets go is known in closed form.
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

/* Above the base voltage: time constant and where it would end. */
static double conducting(const struct specimen *sp, double *end_v)
{
    double g = 1 / sp->pump_leak_ohm + 1 / sp->enable_base_ohm;
    *end_v = sp->enable_base_v / sp->enable_base_ohm / g;
    return sp->pump_store_f / g;
}

static void discharge(struct network *net, double dt)
{
    struct deadman *d = &net->deadman;
    const struct specimen *sp = &net->sp;
    if (d->tripped) {
        d->alive_v = fmin(d->alive_v, fmax(0.05, d->alive_v - dt * trip_a(net) / sp->pump_store_f));
        return;
    }
    if (d->alive_v > sp->enable_base_v) {
        double end_v, tau = conducting(sp, &end_v);
        double to_base = tau * log((d->alive_v - end_v) / (sp->enable_base_v - end_v));
        if (dt < to_base) {
            d->alive_v = end_v + (d->alive_v - end_v) * exp(-dt / tau);
            return;
        }
        d->alive_v = sp->enable_base_v;
        dt -= to_base;
    }
    d->alive_v *= exp(-dt / (sp->pump_leak_ohm * sp->pump_store_f));
}

void deadman_advance(struct network *net, double t)
{
    struct deadman *d = &net->deadman;
    if (d->trip_at <= t && !d->tripped) {
        discharge(net, fmax(0, d->trip_at - d->at));
        d->at = fmax(d->at, d->trip_at);
        d->tripped = true;
        discharge(net, fmax(0, t - d->at));
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
    if (d->tripped)
        return d->at + (d->alive_v - enough_v(net)) * net->sp.pump_store_f / trip_a(net) + 1e-9;
    double end_v, tau = conducting(&net->sp, &end_v);
    return d->at + tau * log((d->alive_v - end_v) / (enough_v(net) - end_v)) + 1e-9;
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
    double base_a = fmax(0, net->deadman.alive_v - sp->enable_base_v) / sp->enable_base_ohm;
    return fmax(0.05, rail(net) - sp->enable_pull_ohm * base_a * sp->enable_beta);
}
