/* plain_chip.c: resistors, sources and a two-transistor inverter, for tests of the
 * network itself.  Not a model of any chip.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdlib.h>

#include "network.h"

#define API __attribute__((visibility("default")))
#define MOST 32

struct branch {
    int a, b; /* positions; 0 is the fixture's ground */
    double ohm;
};

/* Output to `vcc` or `gnd` through `ohm`, by the level of `in` against half the supply. */
struct inverter {
    int in, out, vcc, gnd;
    double ohm;
    int high;
};

struct plain {
    struct branch branch[MOST];
    struct inverter inverter[MOST];
    int branches, inverters, sink_limit_on;
    double sink_limit_a;
    long settles;
};

API struct plain *plain_new(void)
{
    return calloc(1, sizeof(struct plain));
}

API void plain_free(struct plain *p)
{
    free(p);
}

API int plain_resistor(struct plain *p, int a, int b, double ohm)
{
    if (p->branches == MOST)
        return -1;
    p->branch[p->branches++] = (struct branch){a, b, ohm};
    return 0;
}

API int plain_inverter(struct plain *p, int in, int out, int vcc, int gnd, double ohm)
{
    if (p->inverters == MOST)
        return -1;
    p->inverter[p->inverters++] = (struct inverter){in, out, vcc, gnd, ohm, 0};
    return 0;
}

API void plain_limit(struct plain *p, double amperes)
{
    p->sink_limit_on = 1;
    p->sink_limit_a = amperes;
}

static void resistor(int a, int b, double g, const double *v, double *i, double (*j)[SEATS])
{
    double x = g * ((a ? v[a] : 0) - (b ? v[b] : 0));
    if (a) {
        i[a] += x;
        j[a][a] += g;
    }
    if (b) {
        i[b] -= x;
        j[b][b] += g;
    }
    if (a && b) {
        j[a][b] -= g;
        j[b][a] -= g;
    }
}

static void currents(const struct chip *chip, const double *v, double *i, double (*j)[SEATS])
{
    const struct plain *p = (const struct plain *)chip;
    for (int n = 0; n < p->branches; n++)
        resistor(p->branch[n].a, p->branch[n].b, 1 / p->branch[n].ohm, v, i, j);
    for (int n = 0; n < p->inverters; n++) {
        const struct inverter *q = &p->inverter[n];
        resistor(q->out, q->high ? q->vcc : q->gnd, 1 / q->ohm, v, i, j);
    }
}

static int settle(struct chip *chip, const double *v, double now)
{
    struct plain *p = (struct plain *)chip;
    int changed = 0;
    (void)now;
    p->settles++;
    for (int n = 0; n < p->inverters; n++) {
        struct inverter *q = &p->inverter[n];
        double gnd = q->gnd ? v[q->gnd] : 0, half = gnd + (v[q->vcc] - gnd) / 2;
        int high = v[q->vcc] - gnd > 2 ? v[q->in] < half : 0;
        changed |= high != q->high;
        q->high = high;
    }
    return changed;
}

static int overstress(const struct chip *chip, const double *v, const double *i, const char **what, double *value)
{
    const struct plain *p = (const struct plain *)chip;
    (void)v;
    for (int k = 1; k < SEATS && p->sink_limit_on; k++)
        if (fabs(i[k]) > p->sink_limit_a) {
            *what = "terminal carries too much";
            *value = i[k];
            return k;
        }
    return 0;
}

API const struct chip_ops plain_ops = {currents, settle, overstress, NULL, NULL, NULL, NULL};

/* The real chip functions, where chips/ is linked in; else null pointers. */
#pragma weak chip_currents_near
#pragma weak chip_settle
#pragma weak chip_overstress
#pragma weak chip_wait
#pragma weak chip_act
#pragma weak chip_state
#pragma weak chip_pattern
const struct chip_ops chip_ops_linked = {chip_currents_near, chip_settle, chip_overstress, chip_wait, chip_act, chip_state, chip_pattern};
