/* stages.h: what the transistors behind a terminal do.
 *
 * Each stage is a current as a function of one or two voltages, with slopes.
 * Parameters are volts, ohms and amperes at 25 C.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CHIPS_STAGES_H
#define CHIPS_STAGES_H

/* Bipolar transistor that sinks, in saturation until its base drive gives out:
 *   V = sat_v + sat_n Vt ln((1 + sat_a r) / (1 - r / beta)) + I ohm,  r = I / Ib
 * (Ebers-Moll with constant base current; sat_v = Vt ln(1/alpha_R) without, and
 * VBE - V(Schottky) with a clamp).  As r nears beta, V runs away: the cliff. */
struct sink {
    double sat_v, sat_n, sat_a, ohm;
    double drive_a;      /* base current at 5 V supply */
    double drive_v;      /* supply at which base drive begins */
    double beta;
    double early_v;
};

/* Emitter follower that sources: one junction to the pin (with a resistor across
 * it in Darlington stages that have one), one base-emitter junction whose base is
 * fed through base_ohm, and the collector resistor that takes over when the
 * transistor saturates. */
struct pull_up {
    double ohm;          /* collector resistor */
    double base_ohm;     /* base resistor / (beta + 1) */
    double vbe, n;       /* at 1 mA */
    double diode_v, diode_n, shunt_ohm;
    double sat_v;
    double extra_ohm;    /* fault: weak pull-up */
};

/* MOS transistor, level 1, with its gate on the other rail. */
struct channel {
    double k;            /* A/V^2 */
    double vt;           /* V */
    double lambda;       /* 1/V */
};

/* Current into the pin; *gv = dI/dV(pin), *gs = dI/dV(supply), both against GND. */
double sink_current(const struct sink *s, double v, double supply, double *gv, double *gs);

/* Current out of the pin at a drop (VCC - pin); *g = dI/d(drop). */
double pull_up_current(const struct pull_up *p, double drop, double *g);

/* Drain current at vds with the gate at `supply` from the source. */
double channel_current(const struct channel *c, double vds, double supply, double *gds,
                       double *gs);

/* Smooth ramp: 0 below `on` volts, 1 at 5 V, straight between; *g its slope. */
double supply_shape(double v, double on, double *g);

#endif
