/* junction.c: see junction.h.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include "junction.h"

/* Steps of the fourth order (Fritsch, Shafer and Crowley, Comm. ACM 16, 1973, algorithm 443) from a guess that is
 * good on both sides: e^x for small x, x - ln x for large.  Mostly two reach double precision. */
double omega(double x)
{
    if (x < -34.0)
        return exp(x);
    double e, w = x;
    if (x < 1.0) {
        e = exp(x);
        w = e / (1.0 + e * 0.5);
    } else {
        w -= log(x);
    }
    for (int k = 0; k < 4; k++) {
        double z = x - w - log(w), q = 2 * (1 + w) * (1 + w + z * (2.0 / 3.0));
        double step = z / (1 + w) * (q - z) / (q - 2 * z);
        w += w * step;
        if (fabs(step) < 1e-4)  /* its fourth power is what is left */
            break;
    }
    return w;
}

double softplus(double x, double *slope)
{
    if (x > 36.0) {
        *slope = 1.0;
        return x;
    }
    double e = exp(x);
    *slope = e / (1.0 + e);
    return log1p(e);
}

struct junction junction(double vf, double n, double ohm)
{
    struct junction d = {.vf = vf, .n = n, .ohm = ohm, .t = n * THERMAL_V};
    d.ln_is = log(1e-3) - vf / d.t;
    d.is = exp(d.ln_is);
    d.is_ohm = d.is * ohm;
    d.ln_r = log(ohm / d.t);
    return d;
}

/* I = Is (exp((V - I R) / nVt) - 1) has the solution
 * I = (nVt / R) W - Is, where W + ln W = (V + Is R) / nVt + ln(Is R / nVt). */
double junction_current(const struct junction *d, double v, double *g)
{
    double w = omega((v + d->is_ohm) / d->t + d->ln_is + d->ln_r);
    *g = w / (d->ohm * (1.0 + w));
    return d->t / d->ohm * w - d->is;
}

double junction_volts(double vf, double n, double i, double *r)
{
    double t = n * THERMAL_V;
    *r = t / i;
    return vf + t * log(i / 1e-3);
}

/* V / R + Is exp(V / nVt) = I, hence V = R I - nVt W with
 * W + ln W = R I / nVt + ln(Is R / nVt). */
double shunted_volts(double vf, double n, double shunt_ohm, double i, double *r)
{
    if (shunt_ohm <= 0)
        return junction_volts(vf, n, i, r);
    double t = n * THERMAL_V;
    double w = omega(shunt_ohm * i / t + log(1e-3 * shunt_ohm / t) - vf / t);
    *r = shunt_ohm / (1.0 + w);
    return shunt_ohm * i - t * w;
}

double bracketed_step(double x, double f, double slope, double *lo, double *hi, double *last)
{
    if (f > 0)
        *hi = x;
    else
        *lo = x;
    double next = x - f / slope;
    if (!(next >= *lo && next <= *hi) || fabs(2 * f) > fabs(*last * slope))
        next = 0.5 * (*lo + *hi);
    *last = next - x;
    return next;
}
