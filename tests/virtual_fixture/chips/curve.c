/* curve.c: a measured or simulated curve, straight between its points and beyond.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "engine.h"

double curve_current(const struct curve *c, double v, double *g)
{
    int k = 1;
    while (k < c->count - 1 && v > c->volts[k])
        k++;
    *g = (c->amperes[k] - c->amperes[k - 1]) / (c->volts[k] - c->volts[k - 1]);
    return c->amperes[k - 1] + *g * (v - c->volts[k - 1]);
}
