/* junction.h: smooth building blocks of the terminal models.
 *
 * Every function returns a value and its derivative; none overflows for any
 * voltage the network may try on its way to a solution.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CHIPS_JUNCTION_H
#define CHIPS_JUNCTION_H

#include "../chip.h"

#define THERMAL_V 0.025852   /* kT/q at 300 K */

/* A junction in series with a resistor.  vf is its voltage at 1 mA, n the
 * emission coefficient, ohm > 0 the resistance. */
struct junction {
    double vf, n, ohm;
    double t, is_ohm, is, ln_is, ln_r; /* n VT; Is R, Is, ln Is, ln(R / n VT) */
};

/* With what follows from the three. */
struct junction junction(double vf, double n, double ohm);

/* The w that solves w + ln w = x. */
double omega(double x);

/* ln(1 + e^x) and its slope. */
double softplus(double x, double *slope);

/* Current of a junction with its resistor at v volts; *g is dI/dV. */
double junction_current(const struct junction *d, double v, double *g);

/* Voltage of a junction (without resistor) that carries i > 0; *r is dV/dI. */
double junction_volts(double vf, double n, double i, double *r);

/* The same with a resistor across the junction (0: none). */
double shunted_volts(double vf, double n, double shunt_ohm, double i, double *r);

/* One step towards the zero of an increasing function f inside [*lo, *hi]: Newton, or
 * halving where Newton leaves the bracket or gains too little.  *last is the step
 * before, and is replaced by this one. */
double bracketed_step(double x, double f, double slope, double *lo, double *hi, double *last);

#endif
