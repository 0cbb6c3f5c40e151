/* slide.c: the solution follows a moving level drive along its slope.
 *
 * A ramp is looked at every few microseconds, and moves a fifth of a millivolt meanwhile.
 * Between solutions the nodes go where their slopes by the level point; how far that may be
 * trusted is learnt from how near each new solution was to what had been foretold.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>

#include "network.h"

#define STRIDE_LEAST_V 5e-4
#define RIGHT_V 4e-5 /* of a foretold node: the stride may grow ... */
#define WRONG_V 2e-4 /* ... and must shrink: a twentieth of a code */

/* Volts by which each node moves with a volt of the level: J x = g at node K.  unit_k: the factors' answer for
 * one ampere into node K. */
void slide_begin(struct network *net, const double unit_k[NODES])
{
    double g = element_vdac_slope(net, net->target[N_V5], net->target[N_K]);
    for (int i = 0; i < NODES; i++)
        net->slide.along[i] = unit_k[i] * g;
    net->slide.at_v = net->drive.level_v;
    net->slide.stride_v = smaller(SLIDE_MOST_V, larger(STRIDE_LEAST_V, net->slide.stride_v));
}

/* Move all nodes to where the level is now; true if that is too far to trust. */
bool slide_on(struct network *net)
{
    struct slide *s = &net->slide;
    double by = net->level.f2 - s->at_v, way = net->level.f2 - net->drive.level_v;
    for (int i = 0; i < NODES; i++) {
        net->target[i] += s->along[i] * by;
        net->start[i] += s->along[i] * by;
    }
    s->at_v = net->level.f2;
    net->waiting = net->watch.seen = false;
    return fabs(way) > s->stride_v;
}

void slide_learn(struct network *net, const double foretold[NODES])
{
    double most = 0;
    for (int i = 0; i < NODES; i++)
        most = larger(most, fabs(net->target[i] - foretold[i]));
    net->slide.stride_v *= most > WRONG_V ? 0.5 : most < RIGHT_V ? 2 : 1;
    net->slide.stride_v = smaller(SLIDE_MOST_V, larger(STRIDE_LEAST_V, net->slide.stride_v));
}
