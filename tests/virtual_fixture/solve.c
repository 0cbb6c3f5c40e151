/* solve.c: Newton's method on the node equations.
 *
 * Sum of the currents leaving each node = 0.  28 nodes, so the matrix is dense in
 * memory, but most of it is zero and elimination skips zero multipliers.  The start
 * is the last solution.  After convergence the factors of the Jacobian give the
 * settling time constants of node K and of the positions tied to it (Elmore's delay:
 * sum over all nodes of transfer resistance times capacitance).  They hold near the
 * solution; a junction that closes carries far more on the way there (chords()).
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>

#include "network.h"

#define STEP_V 2.0      /* longest step of a node; shorter for one that was overstepped */
#define CLOSE_V 2e-5    /* the step after which an iteration stops: its own error is far smaller */
#define ITERATIONS 80
#define CREEP_ITERATIONS 20
#define CREEP_STEPS 400
#define CREEP_END_S 1e4    /* the slowest time constants here are below a second */
#define ROUNDS 50
#define FASTEST_S 5e-8     /* a position through its multiplexer: nothing here asks for more */
#define CHORD_V 0.01       /* nearer to the end a junction's slope is that of the end */

/* Factors of the Jacobian, kept as the few entries that are not zero. */
struct factors {
    double a[NODES][NODES];
    double own[NODES];                          /* diagonal before elimination */
    int order[NODES];                           /* columns in the order of elimination */
    int row[NODES];                             /* which line of a is the pivot of order[c] */
    uint8_t right[NODES][NODES], rights[NODES]; /* columns right of the pivot in its line */
    uint8_t below[NODES][NODES], belows[NODES]; /* lines that a column is cleared from */
};

/* Nodes with few neighbours first, so that elimination fills in little. */
static void choose_order(struct factors *lu)
{
    int neighbours[NODES], n;
    for (int i = 0; i < NODES; i++) {
        neighbours[i] = 0;
        for (int k = 0; k < NODES; k++)
            neighbours[i] += lu->a[i][k] != 0.0;
        for (n = i; n > 0 && neighbours[lu->order[n - 1]] > neighbours[i]; n--)
            lu->order[n] = lu->order[n - 1];
        lu->order[n] = i;
    }
}

/* The diagonal stays the pivot unless something in its column is ten times larger. */
static int pick_pivot(const struct factors *lu, int c)
{
    int best = c, q = lu->order[c];
    double most = 10 * fabs(lu->a[lu->row[c]][q]);
    for (int r = c + 1; r < NODES; r++) {
        double v = fabs(lu->a[lu->row[r]][q]);
        if (v > most) {
            most = v;
            best = r;
        }
    }
    return best;
}

static bool factor(struct factors *lu)
{
    for (int c = 0; c < NODES; c++) {
        lu->row[c] = lu->order[c];
        lu->own[c] = lu->a[c][c];
    }
    for (int c = 0; c < NODES; c++) {
        int best = pick_pivot(lu, c), q = lu->order[c], swap = lu->row[c], n = 0, m = 0;
        lu->row[c] = lu->row[best];
        lu->row[best] = swap;
        const double *pivot = lu->a[lu->row[c]];
        if (fabs(pivot[q]) < 1e-15)
            return false;
        for (int k = c + 1; k < NODES; k++)
            if (pivot[lu->order[k]] != 0.0)
                lu->right[c][n++] = (uint8_t)lu->order[k];
        double inverse = 1 / pivot[q];
        for (int r = c + 1; r < NODES; r++) {
            double *line = lu->a[lu->row[r]];
            if (line[q] == 0.0)
                continue;
            line[q] *= inverse;
            for (int k = 0; k < n; k++)
                line[lu->right[c][k]] -= line[q] * pivot[lu->right[c][k]];
            lu->below[c][m++] = (uint8_t)lu->row[r];
        }
        lu->rights[c] = (uint8_t)n;
        lu->belows[c] = (uint8_t)m;
    }
    return true;
}

static void back(const struct factors *lu, const double b[NODES], double x[NODES])
{
    double y[NODES];
    memcpy(y, b, sizeof y);
    for (int c = 0; c < NODES; c++)
        for (int m = 0; m < lu->belows[c]; m++)
            y[lu->below[c][m]] -= lu->a[lu->below[c][m]][lu->order[c]] * y[lu->row[c]];
    for (int c = NODES - 1; c >= 0; c--) {
        const double *line = lu->a[lu->row[c]];
        double s = y[lu->row[c]];
        for (int k = 0; k < lu->rights[c]; k++)
            s -= line[lu->right[c][k]] * x[lu->right[c][k]];
        x[lu->order[c]] = s / line[lu->order[c]];
    }
}

/* i: into the chip, by position. */
static void add_chip(const struct network *net, const double x[NODES], double f[NODES], double j[NODES][NODES],
                     double i[SEATS])
{
    if (!net->ops)
        return;
    double v[SEATS], jac[SEATS][SEATS] = {{0}};
    memset(i, 0, SEATS * sizeof *i);
    v[0] = 0;
    memcpy(v + 1, x, CHIP_POSITIONS * sizeof *x);
    net->ops->currents(net->chip, v, i, jac);
    for (int k = 1; k < SEATS; k++) {
        f[k - 1] += i[k];
        for (int m = 1; m < SEATS && jac[k][k] != 0.0; m++) /* a terminal that carries anything has a slope */
            j[k - 1][m - 1] += jac[k][m];
    }
}

/* Each node's step is limited by itself: a floating node may wish to go far while
 * another is already right.  A node whose step turns round has overstepped a bend and
 * treads more carefully.  Returns the longest step wished for. */
static double step(double x[NODES], const double dx[NODES], double limit[NODES], double last[NODES])
{
    double most = 0;
    for (int i = 0; i < NODES; i++) {
        limit[i] = dx[i] * last[i] < 0 ? limit[i] * 0.4 : fmin(limit[i] * 1.5, STEP_V);
        limit[i] = fmax(limit[i], 100 * CLOSE_V);
        last[i] = dx[i];
        most = fmax(most, fabs(dx[i]));
        x[i] += fmax(-limit[i], fmin(limit[i], dx[i]));
        x[i] = fmin(7.9, fmax(-1.9, x[i]));
    }
    return most;
}

/* Capacitors to where the nodes were a moment ago, as conductances C / h. */
struct hold {
    double from[NODES], siemens[NODES];
};

/* x in: start; out: solution, with the factors there.  hold: NULL, or what ties the nodes. */
static bool newton(struct network *net, double x[NODES], struct factors *lu, const struct hold *hold, int most_rounds)
{
    double f[NODES], minus[NODES], dx[NODES], limit[NODES], last[NODES] = {0};
    for (int i = 0; i < NODES; i++)
        limit[i] = STEP_V;
    for (int n = 0; n < most_rounds; n++) {
        net->iterations++;
        elements(net, x, f, lu->a, &net->vdac_a);
        add_chip(net, x, f, lu->a, net->chip_a);
        for (int i = 0; hold && i < NODES; i++) {
            f[i] += hold->siemens[i] * (x[i] - hold->from[i]);
            lu->a[i][i] += hold->siemens[i];
        }
        if (n == 0)
            choose_order(lu);
        if (!factor(lu))
            return false;
        for (int i = 0; i < NODES; i++)
            minus[i] = -f[i];
        back(lu, minus, dx);
        double most = step(x, dx, limit, last);
        if (!isfinite(most))
            return false;
        if (most < CLOSE_V)
            return true;
    }
    return false;
}

static double capacitance(const struct network *net, int node)
{
    const struct specimen *sp = &net->sp;
    switch (node) {
    case N_K: return sp->k_f;
    case N_VBUS: return sp->vbus_f;
    case N_V5: return sp->rail_f;
    case N_VREF: return 1e-10;
    default: return sp->position_f[node + 1];
    }
}

/* Where Newton goes round in circles (a chip that floats on microampere leakages, its
 * channels fed by its own stray supply): follow the capacitors there, by implicit
 * steps that grow until the capacitors carry nothing.  Small enough a step always
 * succeeds, and the way ends where the circuit itself would end. */
static bool creep(struct network *net, double x[NODES], struct factors *lu)
{
    struct hold hold;
    double h = 1e-9;
    memcpy(hold.from, x, sizeof hold.from);
    for (int n = 0; n < CREEP_STEPS && h > 1e-16; n++) {
        for (int i = 0; i < NODES; i++)
            hold.siemens[i] = capacitance(net, i) / h;
        memcpy(x, hold.from, sizeof hold.from);
        if (!newton(net, x, lu, &hold, CREEP_ITERATIONS)) {
            h *= 0.05;
            continue;
        }
        memcpy(hold.from, x, sizeof hold.from);
        if (h > CREEP_END_S && newton(net, x, lu, NULL, ITERATIONS))
            return true;
        h *= 4;
    }
    return false;
}

static double elmore(const struct network *net, const struct factors *lu, int node)
{
    double unit[NODES] = {0}, r[NODES], tau = 0;
    unit[node] = 1;
    back(lu, unit, r);
    for (int i = 0; i < NODES; i++)
        if (i < N_VBUS) /* the rails are stiff: their capacitors do not slow a signal */
            tau += fabs(r[i]) * capacitance(net, i);
    return tau;
}

static void time_constants(struct network *net, const struct factors *lu)
{
    for (int i = 0; i < NODES; i++)
        net->tau[i] = capacitance(net, i) / fmax(lu->own[i], 1e-12);
    net->tau[N_K] = elmore(net, lu, N_K);
    for (int m = 0; m < MUXES; m++)
        if (net->drive.tied[m]) {
            int node = net->sp.sense_position[m][net->drive.tied[m] - 1] - 1;
            net->tau[node] = elmore(net, lu, node);
        }
}

/* The nodes that move as one: K and the positions tied to it. */
static bool with_k(const struct network *net, int node)
{
    if (node == N_K)
        return true;
    for (int m = 0; m < MUXES; m++)
        if (net->drive.tied[m] && net->sp.sense_position[m][net->drive.tied[m] - 1] - 1 == node)
            return true;
    return false;
}

/* How far K and what is tied to it are from their end once they have shared their charges. */
static double shared_way(const struct network *net, double *farads)
{
    double charge = 0;
    *farads = 0;
    for (int i = 0; i <= N_K; i++)
        if (with_k(net, i)) {
            charge += capacitance(net, i) * (net->start[i] - net->target[i]);
            *farads += capacitance(net, i);
        }
    return charge / *farads;
}

/* Time constant of a node half way to its end, if that is shorter: an emitter follower
 * that pulls up ends with a microampere of leakage, but drives milliamperes until then.
 * `a`: what flows from the node half way, volts away from its end.  A junction that is
 * blocked on the way (from above) gains nothing. */
static double chord(double tau, double farads, double volts, double a)
{
    return a * volts > 0 ? fmin(tau, fmax(FASTEST_S, farads * volts / a)) : tau;
}

/* Currents that leave the nodes 0..N_K, each `way` volts from its end. */
static void currents_on_the_way(const struct network *net, const double way[NODES], double f[NODES])
{
    double x[NODES], j[NODES][NODES], chip_a[SEATS], vdac_a;
    for (int i = 0; i < NODES; i++)
        x[i] = net->target[i] + way[i];
    elements(net, x, f, j, &vdac_a);
    add_chip(net, x, f, j, chip_a);
}

static void chords(struct network *net)
{
    double way[NODES] = {0}, f[NODES], a_k = 0, farads, most = 0;
    double shared = shared_way(net, &farads);
    for (int i = 0; i <= N_K; i++) {
        way[i] = (with_k(net, i) ? shared : net->start[i] - net->target[i]) / 2;
        most = net->tau[i] > FASTEST_S ? fmax(most, fabs(way[i])) : most;
    }
    if (most < CHORD_V)
        return;
    currents_on_the_way(net, way, f);
    for (int i = 0; i <= N_K; i++)
        a_k += with_k(net, i) ? f[i] : 0;
    for (int i = 0; i <= N_K; i++)
        if (with_k(net, i))
            net->tau[i] = fabs(shared) / 2 > CHORD_V ? chord(net->tau[i], farads, shared / 2, a_k) : net->tau[i];
        else if (fabs(way[i]) > CHORD_V)
            net->tau[i] = chord(net->tau[i], capacitance(net, i), way[i], f[i]);
}

/* Of node K, pushed `volts` away from its end (the converter's sample capacitor does that). */
double solve_tau_k(const struct network *net, double volts)
{
    double way[NODES] = {0}, f[NODES], a_k = 0, farads = 0;
    if (fabs(volts) / 2 < CHORD_V)
        return net->end_tau_k;
    for (int i = 0; i <= N_K; i++)
        if (with_k(net, i)) {
            way[i] = volts / 2;
            farads += capacitance(net, i);
        }
    currents_on_the_way(net, way, f);
    for (int i = 0; i <= N_K; i++)
        a_k += with_k(net, i) ? f[i] : 0;
    return chord(net->end_tau_k, farads, volts / 2, a_k);
}

/* Solve at net->now for net->drive; the nodes start from where they are. */
bool solve(struct network *net)
{
    struct factors lu;
    double x[NODES], from[NODES], v[SEATS];
    memcpy(x, net->target, sizeof x);
    net->solves++;
    bool good = false, settled = false;
    for (int round = 0; round < ROUNDS && !settled; round++) {
        memcpy(from, x, sizeof from);
        good = newton(net, x, &lu, NULL, ITERATIONS);
        if (!good) {
            memcpy(x, from, sizeof from);
            good = creep(net, x, &lu);
        }
        if (!good)
            break;
        v[0] = 0;
        memcpy(v + 1, x, CHIP_POSITIONS * sizeof *x);
        settled = !net->ops || !net->ops->settle(net->chip, v, net->now);
    }
    if (!good) {
        net->unsolved++;
        watch_add(net, "network not solved", "solver", 0);
        return false;
    }
    if (!settled)
        net->oscillating++;
    memcpy(net->target, x, sizeof x);
    time_constants(net, &lu);
    net->end_tau_k = net->tau[N_K];
    chords(net);
    return true;
}
