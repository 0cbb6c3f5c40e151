/* solve.c: bond wires with resistance.
 *
 * A node whose bond wire has resistance is an unknown of the chip's own: found by
 * Newton, then eliminated, so that the network sees terminals only.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>
#include "engine.h"

/* Gaussian elimination with pivoting: a (n x n) times x (n x m) = b, result in b. */
void eliminate(int n, int m, double a[NODES][NODES], double b[NODES][NODES])
{
    for (int c = 0; c < n; c++) {
        int best = c;
        for (int r = c + 1; r < n; r++)
            if (fabs(a[r][c]) > fabs(a[best][c]))
                best = r;
        for (int k = 0; best != c && k < n; k++) {
            double t = a[c][k]; a[c][k] = a[best][k]; a[best][k] = t;
        }
        for (int k = 0; best != c && k < m; k++) {
            double t = b[c][k]; b[c][k] = b[best][k]; b[best][k] = t;
        }
        for (int r = 0; r < n; r++) {
            double f = r == c ? 0 : a[r][c] / a[c][c];
            for (int k = c; f != 0 && k < n; k++)
                a[r][k] -= f * a[c][k];
            for (int k = 0; f != 0 && k < m; k++)
                b[r][k] -= f * b[c][k];
        }
    }
    for (int r = 0; r < n; r++)
        for (int k = 0; k < m; k++)
            b[r][k] /= a[r][r];
}

static int bonded(const struct chip *c, int node[NODES])
{
    int n = 0;
    for (int k = 1; k < NODES; k++)
        if (c->series_ohm[k] > 0)
            node[n++] = k;
    return n;
}

void solve_pads(struct chip *c, const double terminal[NODES], double pad[NODES])
{
    static const double largest = 0.5;     /* V per step */
    int node[NODES];
    int n = bonded(c, node);
    memcpy(pad, terminal, sizeof(double[NODES]));
    double limit[NODES], before[NODES];
    for (int k = 0; k < n; k++) {
        /* The last solution, unless it can have nothing to do with this one. */
        double start = c->pad[node[k]];
        pad[node[k]] = fabs(start) < 9 ? start : terminal[node[k]];
        limit[k] = largest;
        before[k] = 0;
    }
    for (int round = 0; n > 0 && round < 200; round++) {
        double i[NODES] = {0}, j[NODES][NODES] = {{0}};
        double a[NODES][NODES], b[NODES][NODES];
        elements_currents(c, pad, i, j);
        for (int k = 0; k < n; k++) {
            double ohm = c->series_ohm[node[k]];
            double f = i[node[k]] - (terminal[node[k]] - pad[node[k]]) / ohm;
            /* A residual that changes sign was overstepped: tread more carefully. */
            limit[k] = f * before[k] < 0 ? limit[k] * 0.5 : smaller(limit[k] * 1.3, largest);
            before[k] = f;
            b[k][0] = -f;
            for (int m = 0; m < n; m++)
                a[k][m] = j[node[k]][node[m]] + (k == m ? 1.0 / ohm : 0);
        }
        eliminate(n, 1, a, b);
        double largest_step = 0;
        for (int k = 0; k < n; k++) {
            double step = larger(-limit[k], smaller(limit[k], b[k][0]));
            pad[node[k]] += step;
            largest_step = larger(largest_step, fabs(step));
        }
        if (largest_step < 1e-11)
            break;
    }
    for (int k = 0; k < n; k++)
        c->pad[node[k]] = pad[node[k]];
}

/* With the bonded nodes U and the rest K:  dP = M^-1 (G dU - J_UK dK),
 * M = J_UU + G;  i_U = G (v_U - P),  i_K = I_K(v_K, P). */
static void reduce(const struct chip *c, int n, const int *node, const double terminal[NODES],
                   const double pad[NODES], double i[NODES], double j[NODES][NODES])
{
    double full_i[NODES] = {0}, full[NODES][NODES] = {{0}};
    double m[NODES][NODES], x[NODES][NODES];
    int is_bonded[NODES] = {0};
    elements_currents(c, pad, full_i, full);
    for (int k = 0; k < n; k++) {
        double g = 1.0 / c->series_ohm[node[k]];
        is_bonded[node[k]] = 1;
        for (int p = 0; p < n; p++)
            m[k][p] = full[node[k]][node[p]] + (k == p ? g : 0);
        for (int t = 0; t < NODES; t++)
            x[k][t] = t == node[k] ? g : 0;
    }
    for (int k = 0; k < n; k++)
        for (int t = 1; t < NODES; t++)
            if (!is_bonded[t])
                x[k][t] = -full[node[k]][t];
    eliminate(n, NODES, m, x);             /* x[k][t] = d pad k / d terminal t */
    for (int r = 1; r < NODES; r++) {
        if (is_bonded[r])
            continue;
        i[r] += full_i[r];
        for (int t = 1; t < NODES; t++) {
            double slope = is_bonded[t] ? 0 : full[r][t];
            for (int k = 0; k < n; k++)
                slope += full[r][node[k]] * x[k][t];
            j[r][t] += slope;
        }
    }
    for (int k = 0; k < n; k++) {
        int r = node[k];
        double g = 1.0 / c->series_ohm[r];
        i[r] += (terminal[r] - pad[r]) * g;
        for (int t = 1; t < NODES; t++)
            j[r][t] += (t == r ? g : 0) - g * x[k][t];
    }
}

void chip_currents(const struct chip *c, const double v[NODES], double i[NODES],
                   double j[NODES][NODES])
{
    int node[NODES];
    int n = bonded(c, node);
    if (n == 0) {
        elements_currents(c, v, i, j);
        return;
    }
    double pad[NODES];
    /* The starting point is all that solve_pads changes: no state of the chip. */
    solve_pads((struct chip *)c, v, pad);
    reduce(c, n, node, v, pad, i, j);
}

void chip_currents_near(const struct chip *c, const double v[NODES], double i[NODES], double j[NODES][NODES])
{
    c->memory->near_v = CHIP_NEAR_V;
    for (int k = 1; k < NODES; k++)
        if (c->series_ohm[k] > 0)
            c->memory->near_v = 0;      /* solve_pads wants more than that */
    chip_currents(c, v, i, j);
    c->memory->near_v = 0;
}
