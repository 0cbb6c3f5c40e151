/* ideal.c: a chip between ideal sources, without a fixture: what its pins really do.
 *
 * Nodes are held at a voltage (fixed) or are given a current (free; 0: open).  The
 * elements are those the fixture sees (chip_currents), only the network is another.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>
#include "engine.h"

#define OPEN_S 1e-12        /* what ties a pin without anything to GND */
#define ROUNDS 120
#define CLOSE_V 1e-10
#define STEP_V 1.0

/* Newton from x; held by siemens to `from` (0: by nothing).  1 if it arrived. */
static int newton(const struct chip *c, const unsigned char *fixed, const double *amperes,
                  const double *from, double siemens, double x[NODES])
{
    int node[NODES], n = 0;
    double limit[NODES], last[NODES] = {0};
    for (int k = 1; k < NODES; k++)
        if (!fixed[k]) {
            limit[n] = STEP_V;
            node[n++] = k;
        }
    for (int round = 0; round < ROUNDS; round++) {
        double i[NODES] = {0}, j[NODES][NODES] = {{0}}, a[NODES][NODES], b[NODES][NODES];
        double most = 0;
        chip_currents(c, x, i, j);
        for (int r = 0; r < n; r++) {
            int k = node[r];
            b[r][0] = -(i[k] - amperes[k] + OPEN_S * x[k] + siemens * (x[k] - from[k]));
            for (int m = 0; m < n; m++)
                a[r][m] = j[k][node[m]] + (r == m ? OPEN_S + siemens : 0);
        }
        eliminate(n, 1, a, b);
        for (int r = 0; r < n; r++) {
            double step = b[r][0];
            if (!isfinite(step))
                return 0;
            limit[r] = step * last[r] < 0 ? limit[r] * 0.4 : smaller(limit[r] * 1.5, STEP_V);
            limit[r] = larger(limit[r], 1e-6);
            last[r] = step;
            x[node[r]] += larger(-limit[r], smaller(limit[r], step));
            x[node[r]] = smaller(30.0, larger(-30.0, x[node[r]]));
            most = larger(most, fabs(step));
        }
        if (most < CLOSE_V)
            return 1;
    }
    return 0;
}

/* v: fixed nodes as given, free ones as a start; out: the solution.  i: what flows into
 * the chip at every node.  The logic does not react.  0, or -1 without a solution. */
int chip_ideal(const struct chip *c, const unsigned char fixed[NODES],
               const double amperes[NODES], double v[NODES], double i[NODES])
{
    double x[NODES], from[NODES], j[NODES][NODES] = {{0}};
    memcpy(x, v, sizeof x);
    int good = newton(c, fixed, amperes, v, 0, x);
    memcpy(from, v, sizeof from);
    /* Capacitors at the free nodes, followed until they carry nothing. */
    for (double s = 1e-2; !good && s < 1e3;) {
        memcpy(x, from, sizeof x);
        if (!newton(c, fixed, amperes, from, s, x)) {
            s *= 8;
            continue;
        }
        memcpy(from, x, sizeof from);
        s *= 0.3;
        if (s < 1e-14)
            good = newton(c, fixed, amperes, from, 0, x);
        if (s < 1e-18)
            break;
    }
    if (!good)
        return -1;
    memcpy(v, x, sizeof x);
    memset(i, 0, sizeof(double[NODES]));
    chip_currents(c, v, i, j);
    return 0;
}

/* The same, the logic reacting until nothing changes any more.  0; -1 without a
 * solution; 1 if it goes on changing. */
int chip_ideal_settle(struct chip *c, const unsigned char fixed[NODES],
                      const double amperes[NODES], double v[NODES], double i[NODES], double now_s)
{
    for (int round = 0; round < 40; round++) {
        if (chip_ideal(c, fixed, amperes, v, i) != 0)
            return -1;
        if (!chip_settle(c, v, now_s))
            return 0;
    }
    return 1;
}

/* The level the logic sees at an input: 0, 1, or -1 if it has not looked yet. */
int chip_input_level(const struct chip *c, int node)
{
    for (int k = 0; k < c->inputs; k++)
        if (c->input[k].node == node)
            return c->input[k].known ? c->input[k].level : -1;
    return -1;
}
