/* guess.c: where Newton's method starts after a change of the fixture's own switches.
 *
 * The last solution, but that node K goes where the things it is now tied to pull it.  A
 * poor guess costs iterations, never a different solution.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <string.h>

#include "network.h"

static void pull(double *g, double *gv, double ohm, double v)
{
    *g += 1 / ohm;
    *gv += v / ohm;
}

/* Node K with everything around it held: a divider. */
static double guess_k(const struct network *net, const double x[NODES])
{
    const struct specimen *sp = &net->sp;
    const struct drive *d = &net->drive;
    double v5 = x[N_V5], g = sp->k_leak_up_s + sp->k_leak_down_s, gv = sp->k_leak_up_s * v5;
    double ohm = sp->load_ohm[d->load] + sp->load_ron_ohm[d->load];
    for (int m = 0; m < MUXES; m++)
        if (d->tied[m])
            pull(&g, &gv, sp->sense_ron_ohm[m][d->tied[m] - 1], x[sp->sense_position[m][d->tied[m] - 1] - 1]);
    switch (sp->load_kind[d->load]) {
    case LOAD_LD:
        if (d->ld == LINE_HIGH)
            pull(&g, &gv, ohm + sp->driver_high_ohm[sp->ld_pin], v5);
        else if (d->ld == LINE_LOW)
            pull(&g, &gv, ohm + sp->driver_low_ohm[sp->ld_pin], 0);
        break;
    case LOAD_VDAC: pull(&g, &gv, ohm, element_vdac_limit(net, v5)); break;
    case LOAD_VREF: pull(&g, &gv, ohm, x[N_VREF]); break;
    case LOAD_GND: pull(&g, &gv, ohm, 0); break;
    default: break;
    }
    return gv / g;
}

/* x in: the last solution, that of net->solved. */
void guess(const struct network *net, double x[NODES])
{
    const struct drive *d = &net->drive, *was = &net->solved;
    if (memcmp(d->tied, was->tied, sizeof d->tied) || d->load != was->load || d->ld != was->ld)
        x[N_K] = guess_k(net, x);
}
