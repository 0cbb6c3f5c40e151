/* elements.c: the currents of the fixture's parts at given node voltages.
 *
 * f[n] is the sum of the currents that leave node n; its derivatives are added to j.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>

#include "network.h"

#define THERMAL_V 0.02585
#define CLAMP_KNEE_V 0.25 /* of a protection diode: nothing below */
#define REFERENCE_KNEE_V 1e-4
#define REFERENCE_OWN 1e-5 /* x 1 / dynamic resistance: LM4040 data sheet, 45..60 uA are the least it works with, at 2.5 V */

struct sums {
    double *f;
    struct jacobian j;
    const double *x;
    const struct specimen *sp;
};

/* The current out of node n grows by g a volt of node `by`. */
static void slope(struct sums *s, int n, int by, double g)
{
    s->j.j[n][by] += g;
    s->j.in_row[n] |= 1u << by;
}

/* A conductance between two nodes. */
static void between(struct sums *s, int a, int b, double g)
{
    double i = g * (s->x[a] - s->x[b]);
    s->f[a] += i;
    s->f[b] -= i;
    slope(s, a, a, g);
    slope(s, b, b, g);
    slope(s, a, b, -g);
    slope(s, b, a, -g);
}

/* A conductance from a node to a fixed voltage. */
static void to_fixed(struct sums *s, int a, double g, double v)
{
    s->f[a] += g * (s->x[a] - v);
    slope(s, a, a, g);
}

/* A controller line behind `ohm` at node `a`. */
static void line(struct sums *s, int a, int pin, enum line state, double ohm)
{
    const struct specimen *sp = s->sp;
    if (sp->pin_bridge[pin])
        return; /* bridge_currents() */
    if (state == LINE_HIGH)
        between(s, a, N_V5, 1 / (ohm + sp->driver_high_ohm[pin]));
    else if (state == LINE_PULL_UP)
        between(s, a, N_V5, 1 / (ohm + sp->pull_up_ohm[pin]));
    else if (state == LINE_LOW)
        to_fixed(s, a, 1 / (ohm + sp->driver_low_ohm[pin]), 0);
}

/* On-resistance of a multiplexer channel: highest at half the supply (data book:
 * RON peak against RON rail), so it depends on the level of the signal. */
static double ron(const struct network *net, double ohm, double level, double v5)
{
    double u = smaller(1, larger(0, level / v5));
    return ohm * (1 + net->sp.mux_peak * 4 * u * (1 - u));
}

/* Protection diode: nothing below its knee, then exponential, straight above 20 mA. */
static double clamp(double u, double *g)
{
    const double is = 1e-13, vt = THERMAL_V, knee = CLAMP_KNEE_V, top = 0.672; /* 1e-13 exp(0.672 / vt) = 20 mA */
    *g = 0;
    if (u < knee)
        return 0;
    double e = is * exp(smaller(u, top) / vt);
    *g = e / vt;
    return e - is * exp(knee / vt) + (u > top ? (u - top) * *g : 0);
}

/* A saturated transistor: a small offset and a resistance, bounded by base current
 * times gain; backwards the gain is about 4 (common practice for these types).  With hardly any
 * base current it reaches its bound within some VT, not within microvolts. */
static double saturated(double u, double ohm, double most, double most_back, double *g)
{
    ohm = larger(ohm, THERMAL_V / most);
    double i = u / ohm, r = i / (i > 0 ? most : most_back), s = sqrt(1 + r * r);
    *g = 1 / (ohm * s * s * s);
    return i / s;
}

/* 0 far below zero, x far above. */
static double rounded(double x, double *slope)
{
    double e = exp(smaller(x, 40));
    *slope = e / (1 + e);
    return x > 40 ? x : log1p(e);
}

static void add_line(struct network *net, int a, int pin, enum line state, double ohm)
{
    const struct specimen *sp = &net->sp;
    struct linear *l = &net->linear;
    if (sp->pin_bridge[pin])
        return; /* bridge_currents() */
    if (state == LINE_HIGH)
        l->up_s[a] += 1 / (ohm + sp->driver_high_ohm[pin]);
    else if (state == LINE_PULL_UP)
        l->up_s[a] += 1 / (ohm + sp->pull_up_ohm[pin]);
    else if (state == LINE_LOW)
        l->down_s[a] += 1 / (ohm + sp->driver_low_ohm[pin]);
}

/* For a new drive. */
static void conductances(struct network *net)
{
    const struct specimen *sp = &net->sp;
    for (int k = 1; k < SEATS; k++) {
        net->linear.up_s[k - 1] = sp->leak_up_s[k];
        net->linear.down_s[k - 1] = sp->leak_down_s[k] + (sp->ground_bit[k] >= 0 ? sp->ground_leak_s[k] : 0);
        add_line(net, k - 1, sp->strong_pin[k], net->drive.strong[k], sp->strong_ohm[k]);
        add_line(net, k - 1, sp->medium_pin[k], net->drive.medium[k], sp->medium_ohm[k]);
    }
    net->linear.ready = true;
}

static void clamps(struct sums *s, int a)
{
    double g, i = clamp(s->x[a] - s->x[N_V5], &g);
    s->f[a] += i;
    s->f[N_V5] -= i;
    s->j.j[a][a] += g;
    s->j.j[a][N_V5] -= g;
    s->j.j[N_V5][a] -= g;
    s->j.j[N_V5][N_V5] += g;
    i = clamp(-s->x[a], &g);
    s->f[a] -= i;
    s->j.j[a][a] += g;
}

static void positions(const struct network *net, struct sums *s)
{
    const struct linear *l = &net->linear;
    double v5 = s->x[N_V5], sum_a = 0, sum_s = 0;
    for (int a = 0; a < CHIP_POSITIONS; a++) {
        double x = s->x[a], i = l->up_s[a] * (x - v5);
        s->f[a] = i + l->down_s[a] * x;
        s->j.j[a][a] = l->up_s[a] + l->down_s[a];
        s->j.j[a][N_V5] = s->j.j[N_V5][a] = -l->up_s[a];
        s->j.in_row[a] = 1u << a | 1u << N_V5;
        sum_a += i;
        sum_s += l->up_s[a];
        if (x - v5 >= CLAMP_KNEE_V || -x >= CLAMP_KNEE_V)
            clamps(s, a);
    }
    s->f[N_V5] -= sum_a;
    s->j.j[N_V5][N_V5] += sum_s;
    s->j.in_row[N_V5] = ((1u << CHIP_POSITIONS) - 1) | 1u << N_V5;
}

static void switches(const struct network *net, struct sums *s)
{
    const struct specimen *sp = &net->sp;
    for (int k = 1; k < SEATS; k++) {
        int a = k - 1;
        double g, i;
        if (sp->supply_bit[k] >= 0) {
            between(s, N_VBUS, a, sp->supply_leak_s[k]);
            if (net->drive.supply[k]) {
                double base = larger(1e-9, (s->x[N_VBUS] - sp->base_v) / sp->supply_base_ohm[k] -
                                             sp->base_v / sp->supply_off_ohm[k]);
                i = saturated(s->x[N_VBUS] - s->x[a] - sp->supply_sat_v[k], sp->supply_sat_ohm[k],
                              base * sp->supply_beta[k], base * 4, &g);
                s->f[N_VBUS] += i;
                s->f[a] -= i;
                slope(s, N_VBUS, N_VBUS, g);
                slope(s, N_VBUS, a, -g);
                slope(s, a, N_VBUS, -g);
                slope(s, a, a, g);
                to_fixed(s, N_VBUS, 1 / sp->supply_base_ohm[k], sp->base_v);
            }
        }
        if (sp->ground_bit[k] >= 0) {
            if (net->drive.ground[k]) {
                double base = larger(1e-9, (s->x[N_V5] - sp->base_v) / sp->ground_base_ohm[k] -
                                             sp->base_v / sp->ground_off_ohm[k]);
                i = saturated(s->x[a] - sp->ground_sat_v[k], sp->ground_sat_ohm[k],
                              base * sp->ground_beta[k], base * 4, &g);
                s->f[a] += i;
                slope(s, a, a, g);
                to_fixed(s, N_V5, 1 / sp->ground_base_ohm[k], sp->base_v);
            }
        }
    }
}

/* Highest level the buffer gives without load. */
double element_vdac_limit(const struct network *net, double v5)
{
    return smaller(v5 - 0.01, larger(0.01, net->drive.level_v + net->sp.buffer_offset_v));
}

/* Level drive through channel resistance `ohm`: the buffer holds its voltage until
 * its output transistor is fully on, then it is a resistance to the rail. */
static double vdac_current(const struct network *net, double v5, double k, double ohm, double *g)
{
    double i = (element_vdac_limit(net, v5) - k) / ohm;
    double up = (v5 - k) / (ohm + net->sp.buffer_ohm), down = (0 - k) / (ohm + net->sp.buffer_ohm);
    *g = 1 / ohm;
    if (i > up && i > 0)
        i = larger(0, up), *g = 1 / (ohm + net->sp.buffer_ohm);
    else if (i < down && i < 0)
        i = smaller(0, down), *g = 1 / (ohm + net->sp.buffer_ohm);
    return i;
}

/* Amperes into node K by volt of the level: nothing where the buffer gives way. */
double element_vdac_slope(const struct network *net, double v5, double k)
{
    const struct specimen *sp = &net->sp;
    double ohm = sp->load_ohm[net->drive.load] + ron(net, sp->load_ron_ohm[net->drive.load], k, v5), g;
    double limit = net->drive.level_v + sp->buffer_offset_v;
    double i = vdac_current(net, v5, k, ohm, &g);
    return limit > 0.01 && limit < v5 - 0.01 && fabs(i * ohm - (limit - k)) < 1e-12 ? 1 / ohm : 0;
}

static void node_k(const struct network *net, struct sums *s, double *vdac_a)
{
    const struct specimen *sp = &net->sp;
    const struct drive *d = &net->drive;
    double v5 = s->x[N_V5], k = s->x[N_K];
    between(s, N_K, N_V5, sp->k_leak_up_s);
    to_fixed(s, N_K, sp->k_leak_down_s, 0);
    for (int m = 0; m < MUXES; m++)
        if (d->tied[m]) {
            int c = d->tied[m] - 1, a = sp->sense_position[m][c] - 1;
            between(s, a, N_K, 1 / ron(net, sp->sense_ron_ohm[m][c], (s->x[a] + k) / 2, v5));
        }
    *vdac_a = 0;
    double ohm = sp->load_ohm[d->load], channel = sp->load_ron_ohm[d->load];
    switch (sp->load_kind[d->load]) {
    case LOAD_LD:
        line(s, N_K, sp->ld_pin, d->ld, ohm + ron(net, channel, k, v5));
        break;
    case LOAD_VDAC: {
        double g, i = vdac_current(net, v5, k, ohm + ron(net, channel, k, v5), &g);
        s->f[N_K] -= i;
        slope(s, N_K, N_K, g);
        *vdac_a = i;
        break;
    }
    case LOAD_VREF:
        between(s, N_K, N_VREF, 1 / (ohm + ron(net, channel, k, v5)));
        break;
    case LOAD_GND:
        to_fixed(s, N_K, 1 / (ohm + ron(net, channel, k, v5)), 0);
        break;
    default:
        break;
    }
}

static void rails(const struct network *net, struct sums *s)
{
    const struct specimen *sp = &net->sp;
    to_fixed(s, N_V5, 1 / sp->usb_ohm, net->drive.usb_v);
    s->f[N_V5] += sp->board_a;
    to_fixed(s, N_V5, 1 / (sp->trip_upper_ohm + sp->trip_lower_ohm), 0);
    if (net->drive.lamp)
        to_fixed(s, N_V5, 1 / sp->lamp_ohm, sp->lamp_v);
    between(s, N_V5, N_VBUS, 1 / sp->shunt_ohm);
    to_fixed(s, N_VBUS, 1 / sp->pedestal_ohm, 0);
    /* the amplifier draws its output current from the rail before the shunt */
    double i = (s->x[N_V5] - s->x[N_VBUS] - sp->icc_offset_v) / sp->icc_in_ohm;
    if (i > 0 && i * sp->icc_out_ohm < s->x[N_VBUS] - sp->icc_headroom_v) {
        s->f[N_V5] += i;
        slope(s, N_V5, N_V5, 1 / sp->icc_in_ohm);
        slope(s, N_V5, N_VBUS, -1 / sp->icc_in_ohm);
    } else if (i > 0) {
        to_fixed(s, N_V5, 1 / (sp->icc_in_ohm + sp->icc_out_ohm), sp->icc_headroom_v + sp->icc_offset_v);
    }
    /* reference: a shunt regulator that lets go within REFERENCE_KNEE_V, and draws its own current below */
    between(s, N_V5, N_VREF, 1 / sp->reference_bias_ohm);
    to_fixed(s, N_VREF, REFERENCE_OWN / sp->reference_ohm, 0);
    double w = s->x[N_VREF] - sp->reference_v + 1e-3 * sp->reference_ohm, on;
    s->f[N_VREF] += REFERENCE_KNEE_V * rounded(w / REFERENCE_KNEE_V, &on) / sp->reference_ohm;
    slope(s, N_VREF, N_VREF, on / sp->reference_ohm);
}

void elements(struct network *net, const double x[NODES], double f[NODES], struct jacobian j, double *vdac_a)
{
    struct sums s = {f, j, x, &net->sp};
    memset(f, 0, NODES * sizeof *f);
    memset(j.in_row, 0, NODES * sizeof *j.in_row);
    if (!net->linear.ready)
        conductances(net);
    positions(net, &s);
    node_k(net, &s, vdac_a);
    switches(net, &s);
    rails(net, &s);
    if (net->sp.bridges)
        bridge_currents(net, x, f, j);
}
