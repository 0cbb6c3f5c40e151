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

#include "factors.h"
#include "network.h"

#define STEP_V 2.0      /* longest step of a node; shorter for one that was overstepped */
#define TURN_BACK 0.35     /* of a step that was too long */
#define ITERATIONS 80
#define JUMP_V 0.8         /* a longer step is that of an output that has switched ... */
#define HIGH_V 2.0         /* ... and this is between its two levels */
#define SEEN_NEVER (-2.0)
#define SLOPE_MIN_V 0.012  /* steps between these may be those down an exponential */
#define SLOPE_MAX_V 0.06
#define CREEP_ITERATIONS 20
#define CREEP_STEPS 400
#define CREEP_END_S 1e4    /* the slowest time constants here are below a second */
#define ROUNDS 50
#define FASTEST_S 5e-8     /* a position through its multiplexer: nothing here asks for more */
#define FOLLOWS_K 0.99     /* of K's own movement: nothing else holds the node */
#define CHORD_V 0.01       /* nearer to the end a junction's slope is that of the end */

/* What a node remembers of the steps before. */
struct path {
    double limit[NODES], last[NODES], taken[NODES];
    bool jumped[NODES];
};

/* An output that has switched goes to where it was when it was last on that side; once a node. */
static bool jump(const struct network *net, double x[NODES], int i, double d, struct path *p)
{
    double to = d > 0 ? net->seen_high[i] : net->seen_low[i];
    if (p->jumped[i] || i > N_K || to < SEEN_NEVER || (to - x[i]) * d < 0)
        return false;
    p->jumped[i] = true;
    p->last[i] = p->taken[i] = 0;
    x[i] = to;
    return true;
}

static void remember(struct network *net)
{
    for (int i = 0; i <= N_K; i++)
        (net->target[i] > HIGH_V ? net->seen_high : net->seen_low)[i] = net->target[i];
}

/* Down an exponential Newton's steps are all but one slope voltage w (26 mV for a junction) long:
 * d = w (1 - r), where r, the share of the current that must remain, grows by exp(step / w) each time.  Two
 * steps give w and r, and with them the whole way, w ln(1 / r); most of that is taken.  Where r is negative
 * the steps grow, and the way ends where the exponential no longer matters beside the rest. */
static double stride(double d, double last, double taken)
{
    double size = fabs(d), before = fabs(last);
    if (d * last <= 0 || size < SLOPE_MIN_V || before > SLOPE_MAX_V || d * taken <= 0)
        return d;
    double w = before + (before - size) / (exp(smaller(fabs(taken) / before, 30)) - 1);
    if (w <= 0)
        return d;
    double way = 0.9 * w * log(w / larger(fabs(w - size), w * 1e-12));
    return way > size ? copysign(smaller(way, 1.0), d) : d;
}

/* Each node's step is limited by itself: a floating node may wish to go far while
 * another is already right.  A node whose step turns round has overstepped a bend: it goes
 * back by a part of that step, and treads more carefully.  Returns the longest step wished for. */
static double step(const struct network *net, double x[NODES], const double dx[NODES], struct path *p)
{
    double most = 0;
    for (int i = 0; i < NODES; i++) {
        most = larger(most, fabs(dx[i]));
        if (fabs(dx[i]) > JUMP_V && jump(net, x, i, dx[i], p))
            continue;
        bool turned = dx[i] * p->last[i] < 0;
        double limit = turned ? smaller(p->limit[i] * 0.4, fabs(p->taken[i]) * TURN_BACK)
                              : smaller(p->limit[i] * 1.5, STEP_V);
        limit = larger(limit, 100 * CLOSE_V);
        double d = stride(dx[i], p->last[i], p->taken[i]);
        p->limit[i] = limit;
        p->last[i] = dx[i];
        p->taken[i] = larger(-limit, smaller(limit, d));
        x[i] = smaller(7.9, larger(-1.9, x[i] + p->taken[i]));
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
    double f[NODES], minus[NODES], dx[NODES];
    struct path path = {.last = {0}};
    for (int i = 0; i < NODES; i++)
        path.limit[i] = STEP_V;
    for (int n = 0; n < most_rounds; n++) {
        net->iterations++;
        struct jacobian j = {lu->a, lu->in_row};
        memset(lu->a, 0, sizeof lu->a);
        elements(net, x, f, j, &net->vdac_a);
        terminals_add(net, x, f, j);
        for (int i = 0; hold && i < NODES; i++) {
            f[i] += hold->siemens[i] * (x[i] - hold->from[i]);
            lu->a[i][i] += hold->siemens[i];
        }
        if (n == 0)
            factors_order(lu);
        if (!factors_find(lu))
            return false;
        for (int i = 0; i < NODES; i++)
            minus[i] = -f[i];
        factors_back(lu, minus, dx);
        double most = step(net, x, dx, &path);
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

/* r: volts of every node for an ampere into this one. */
static double elmore(const struct network *net, const struct factors *lu, int node, double r[NODES])
{
    double unit[NODES] = {0}, tau = 0;
    unit[node] = 1;
    factors_back(lu, unit, r);
    for (int i = 0; i < NODES; i++)
        if (i < N_VBUS) /* the rails are stiff: their capacitors do not slow a signal */
            tau += fabs(r[i]) * capacitance(net, i);
    return tau;
}

static bool tied_to_k(const struct network *net, int node)
{
    for (int m = 0; m < MUXES; m++)
        if (net->drive.tied[m] && net->sp.sense_position[m][net->drive.tied[m] - 1] - 1 == node)
            return true;
    return false;
}

/* Also the nodes that move as one with K: the positions tied to it, and what hangs in the air behind them
 * (the other end of a resistor inside the chip): charged and discharged through K alone. */
static void time_constants(struct network *net, const struct factors *lu)
{
    double r[NODES], unused[NODES];
    for (int i = 0; i < NODES; i++)
        net->tau[i] = capacitance(net, i) / larger(lu->own[i], 1e-12);
    net->tau[N_K] = elmore(net, lu, N_K, r);
    for (int i = 0; i <= N_K; i++) {
        bool tied = tied_to_k(net, i);
        net->with_k[i] = i == N_K || tied || r[i] > FOLLOWS_K * r[N_K];
        if (tied)
            net->tau[i] = elmore(net, lu, i, unused);
    }
}

/* How far K and what is tied to it are from their end once they have shared their charges. */
static double shared_way(const struct network *net, double *farads)
{
    double charge = 0;
    *farads = 0;
    for (int i = 0; i <= N_K; i++)
        if (net->with_k[i]) {
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
    return a * volts > 0 ? smaller(tau, larger(FASTEST_S, farads * volts / a)) : tau;
}

/* Currents that leave the nodes 0..N_K, each `way` volts from its end. */
static void currents_on_the_way(struct network *net, const double way[NODES], double f[NODES])
{
    double x[NODES], vdac_a;
    uint32_t in_row[NODES];
    struct jacobian j = {net->slopes, in_row};
    for (int i = 0; i < NODES; i++)
        x[i] = net->target[i] + way[i];
    elements(net, x, f, j, &vdac_a);
    terminals_add_currents(net, x, f);
}

static void chords(struct network *net)
{
    double way[NODES] = {0}, f[NODES], a_k = 0, farads, most = 0;
    double shared = shared_way(net, &farads);
    for (int i = 0; i <= N_K; i++) {
        way[i] = (net->with_k[i] ? shared : net->start[i] - net->target[i]) / 2;
        most = net->tau[i] > FASTEST_S ? larger(most, fabs(way[i])) : most;
    }
    if (most < CHORD_V)
        return;
    currents_on_the_way(net, way, f);
    for (int i = 0; i <= N_K; i++)
        a_k += net->with_k[i] ? f[i] : 0;
    for (int i = 0; i <= N_K; i++)
        if (net->with_k[i])
            net->tau[i] = fabs(shared) / 2 > CHORD_V ? chord(net->tau[i], farads, shared / 2, a_k) : net->tau[i];
        else if (fabs(way[i]) > CHORD_V)
            net->tau[i] = chord(net->tau[i], capacitance(net, i), way[i], f[i]);
}

/* Of node K, pushed `volts` away from its end (the converter's sample capacitor does that). */
double solve_tau_k(struct network *net, double volts)
{
    double way[NODES] = {0}, f[NODES], a_k = 0, farads = 0;
    if (fabs(volts) / 2 < CHORD_V)
        return net->end_tau_k;
    for (int i = 0; i <= N_K; i++)
        if (net->with_k[i]) {
            way[i] = volts / 2;
            farads += capacitance(net, i);
        }
    currents_on_the_way(net, way, f);
    for (int i = 0; i <= N_K; i++)
        a_k += net->with_k[i] ? f[i] : 0;
    return chord(net->end_tau_k, farads, volts / 2, a_k);
}

/* From x on; false if there is no solution. */
static bool find(struct network *net, double x[NODES], struct factors *lu)
{
    double from[NODES];
    memcpy(from, x, sizeof from);
    if (newton(net, x, lu, NULL, ITERATIONS))
        return true;
    memcpy(x, from, sizeof from);
    return creep(net, x, lu);
}

/* Solve at net->now for net->drive; the nodes start from where they are. */
bool solve(struct network *net)
{
    struct factors *lu = net->factors;
    double x[NODES], v[SEATS] = {0};
    memcpy(x, net->target, sizeof x);
    net->solves++;
    guess(net, x);
    net->solved = net->drive;
    net->recalled = NULL;
    net->linear.ready = false;
    net->watch.seen = false;
    net->waiting = false;
    net->epoch++;
    bool good = true, settled = false, known = false;
    for (int round = 0; round < ROUNDS && !settled && good; round++) {
        net->recalled = NULL;
        known = recall_solution(net, x);
        good = known || find(net, x, lu);
        memcpy(v + 1, x, CHIP_POSITIONS * sizeof *x);
        settled = good && (!net->ops || !terminals_settle(net, v));
    }
    if (!good) {
        net->unsolved++;
        watch_add(net, "network not solved", "solver", 0);
        return false;
    }
    memcpy(net->target, x, sizeof x);
    remember(net);
    if (!known)
        time_constants(net, lu);
    if (settled && !known)
        recall_keep(net);
    if (!settled)
        net->recalled = NULL;
    net->watch.seen = known && recall_calm(net);
    net->oscillating += !settled;
    net->end_tau_k = net->tau[N_K];
    chords(net);
    if (net->sp.load_kind[net->drive.load] == LOAD_VDAC) {
        double one[NODES] = {[N_K] = 1}, unit_k[NODES];
        factors_back(lu, one, unit_k);
        slide_begin(net, unit_k);
    }
    return true;
}
