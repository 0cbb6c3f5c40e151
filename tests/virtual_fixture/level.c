/* level.c: the level drive's filter, two RC stages behind the PWM pin.
 *
 * The PWM enters as its mean: at 15.6 kHz two stages of 1 ms leave less than half a
 * millivolt of ripple.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "network.h"

#define STILL_V 1e-5

static double drive_v(const struct network *net)
{
    enum line broken = net->sp.pin_fault[net->sp.pwm_pin] ? network_line(net, net->sp.pwm_pin) : LINE_PULL_UP;
    double duty = broken == LINE_PULL_UP ? net->level.duty : broken == LINE_HIGH;
    return duty * net->target[N_V5];
}

bool level_moving(const struct network *net)
{
    double in = drive_v(net);
    return fabs(net->level.f1 - in) > STILL_V || fabs(net->level.f2 - in) > STILL_V;
}

/* The two stages together are a linear system with two real time constants: the way to the end
 * is exp(A t), written out by Sylvester's formula.  No matter in how many steps it is taken. */
void level_advance(struct network *net, double t)
{
    const struct specimen *sp = &net->sp;
    struct level *l = &net->level;
    double in = drive_v(net), dt = t - l->at;
    l->at = t;
    if (dt <= 0 || (l->f1 == in && l->f2 == in))
        return;
    double into = 1 / (sp->filter_2_ohm * sp->filter_1_f), on = 1 / (sp->filter_2_ohm * sp->filter_2_f);
    double out = 1 / (sp->filter_1_ohm * sp->filter_1_f) + into;
    double mean = -(out + on) / 2, half = sqrt((out - on) * (out - on) / 4 + into * on);
    double slow = exp((mean + half) * dt), fast = exp((mean - half) * dt);
    double p = (slow - fast) / (2 * half), q = (slow + fast) / 2;
    double e1 = l->f1 - in, e2 = l->f2 - in;
    l->f1 = in + q * e1 + p * ((-out - mean) * e1 + into * e2);
    l->f2 = in + q * e2 + p * (on * e1 + (-on - mean) * e2);
    if (!level_moving(net))
        l->f1 = l->f2 = in;
}
