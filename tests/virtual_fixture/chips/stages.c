/* stages.c: see stages.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include "junction.h"
#include "stages.h"

double supply_shape(double v, double on, double *g)
{
    const double width = 0.08;
    double slope, slope5;
    double now = softplus((v - on) / width, &slope);
    double full = softplus((5.0 - on) / width, &slope5);
    *g = slope / (width * full);
    return now / full;
}

/* Collector current over base current as a function of the inner collector
 * voltage; *g is its slope. */
static double forced_beta(const struct sink *s, double v, double *g)
{
    double t = s->sat_n * THERMAL_V;
    double x = (v - s->sat_v) / t;
    double inverse_beta = 1.0 / s->beta;
    double r, dr;
    if (x > 0) {
        double e = exp(-x);
        double den = s->sat_a * e + inverse_beta;
        r = (1.0 - e) / den;
        dr = e * (s->sat_a + inverse_beta) / (den * den) / t;
    } else {
        double e = exp(x);
        double den = s->sat_a + e * inverse_beta;
        r = (e - 1.0) / den;
        dr = e * (s->sat_a + inverse_beta) / (den * den) / t;
    }
    /* Early effect, only forward: 1 + softplus keeps it smooth at x = 0. */
    double slope;
    double early = 1.0 + softplus(x, &slope) * t / s->early_v;
    *g = dr * early + r * slope / s->early_v;
    return r * early;
}

double sink_current(const struct sink *s, double v, double supply, double *gv, double *gs)
{
    double dshape;
    double shape = supply_shape(supply, s->drive_v, &dshape);
    double ib = s->drive_a * shape + 1e-12;
    double lo = smaller(v, s->sat_v), hi = larger(v, s->sat_v);
    /* inner + ohm * ib * r(inner) = v, increasing in inner: Newton inside a bracket,
     * from the straight-line guess of a saturated transistor. */
    double g = 0, r = 0;
    double inner = s->sat_v + (v - s->sat_v) * 0.2, last = hi - lo;
    for (int k = 0; k < 80 && fabs(last) > 1e-13; k++) {
        r = forced_beta(s, inner, &g);
        inner = bracketed_step(inner, inner + s->ohm * ib * r - v, 1.0 + s->ohm * ib * g,
                               &lo, &hi, &last);
    }
    r = forced_beta(s, inner, &g);
    double den = 1.0 + s->ohm * ib * g;
    *gv = ib * g / den;
    *gs = r / den * s->drive_a * dshape;
    return ib * r;
}

/* Drop of the pull-up at a current; *slope = d drop / d i. */
static double pull_up_drop(const struct pull_up *p, double i, double *slope)
{
    double r_out, r_be, blend;
    double out = shunted_volts(p->diode_v, p->diode_n, p->shunt_ohm, i, &r_out);
    double active = junction_volts(p->vbe, p->n, i, &r_be) + i * p->base_ohm;
    double saturated = p->sat_v + i * p->ohm;
    const double width = 0.03;
    double inner = saturated + width * softplus((active - saturated) / width, &blend);
    *slope = r_out + p->ohm + blend * (r_be + p->base_ohm - p->ohm) + p->extra_ohm;
    return out + inner + i * p->extra_ohm;
}

double pull_up_current(const struct pull_up *p, double drop, double *g)
{
    const double floor_a = 1e-13;
    double slope;
    if (drop <= pull_up_drop(p, floor_a, &slope)) {
        /* Cut off; the straight line through zero keeps value and slope small. */
        *g = floor_a;
        return floor_a * smaller(drop, 1.0);
    }
    /* Newton on u = ln i inside a bracket.  Both start values lie above the solution;
     * from above the drop is convex, but for the knee of a shunted junction. */
    double t = (p->n + (p->shunt_ohm > 0 ? 0 : p->diode_n)) * THERMAL_V;
    double sum = p->vbe + (p->shunt_ohm > 0 ? 0 : p->diode_v);
    double hi = smaller(log(drop / (p->ohm + p->extra_ohm)), (drop - sum) / t + log(1e-3));
    double lo = log(floor_a), u = hi, i = exp(u), last = hi - lo;
    for (int k = 0; k < 80 && fabs(last) > 1e-12; k++) {
        double f = pull_up_drop(p, i, &slope) - drop;
        u = bracketed_step(u, f, slope * i, &lo, &hi, &last);
        i = exp(u);
    }
    pull_up_drop(p, i, &slope);
    *g = 1.0 / slope;
    return i;
}

double channel_current(const struct channel *c, double vds, double supply, double *gds,
                       double *gs)
{
    const double width = 0.04;
    double on_slope;
    double over = width * softplus((supply - c->vt) / width, &on_slope);
    double core, d_v, d_over;
    if (vds < over) {                       /* triode, and reverse conduction */
        core = over * vds - 0.5 * vds * vds;
        d_v = over - vds;
        d_over = vds;
    } else {
        core = 0.5 * over * over;
        d_v = 0;
        d_over = over;
    }
    double w = 0.1, s;
    double mod = 1.0 + c->lambda * w * softplus(vds / w, &s);
    *gds = c->k * (d_v * mod + core * c->lambda * s);
    *gs = c->k * d_over * mod * on_slope;
    return c->k * core * mod;
}
