/* level.c: the level drive's filter, two RC stages behind the PWM pin.
 *
 * The PWM enters as its mean: at 15.6 kHz two stages of 1 ms leave less than half a
 * millivolt of ripple.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "network.h"

#define STEP_S 50e-6
#define STILL_V 1e-5

static double drive_v(const struct network *net)
{
    enum line broken = net->sp.pin_fault[net->sp.pwm_pin] ? network_line(net, net->sp.pwm_pin) : LINE_PULL_UP;
    double duty = broken == LINE_PULL_UP ? net->level.duty : broken == LINE_HIGH;
    return duty * net->target[N_V5];
}

static void slope(const struct specimen *sp, double in, double f1, double f2, double *d1, double *d2)
{
    double across = (f1 - f2) / sp->filter_2_ohm;
    *d1 = ((in - f1) / sp->filter_1_ohm - across) / sp->filter_1_f;
    *d2 = across / sp->filter_2_f;
}

bool level_moving(const struct network *net)
{
    double in = drive_v(net);
    return fabs(net->level.f1 - in) > STILL_V || fabs(net->level.f2 - in) > STILL_V;
}

/* Longest step for which the rule below is stable: only a broken capacitor asks for less than STEP_S. */
static double fastest(const struct specimen *sp)
{
    return fmin(sp->filter_1_ohm * sp->filter_1_f, sp->filter_2_ohm * sp->filter_2_f) / 4;
}

/* Midpoint rule; a step is a twentieth of the time constant. */
void level_advance(struct network *net, double t)
{
    struct level *l = &net->level;
    double in = drive_v(net);
    while (l->at < t && level_moving(net)) {
        double h = fmin(fmin(STEP_S, fastest(&net->sp)), t - l->at), a1, a2, b1, b2;
        slope(&net->sp, in, l->f1, l->f2, &a1, &a2);
        slope(&net->sp, in, l->f1 + a1 * h / 2, l->f2 + a2 * h / 2, &b1, &b2);
        l->f1 += b1 * h;
        l->f2 += b2 * h;
        l->at += h;
        if (h < 1e-12)
            break;
    }
    l->at = t;
}
