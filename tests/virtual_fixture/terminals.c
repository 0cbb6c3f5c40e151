/* terminals.c: the chip's currents, asked for as seldom as can be.
 *
 * A chip costs more than everything around it.  Where every terminal is within CLOSE_V of
 * where the chip was asked last, and its logic has not moved since, its currents follow from
 * the slopes there: over 20 uV the bend of a junction adds less than 10 nV to the solution,
 * no more than Newton's method leaves by itself.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>

#include "network.h"

static void ask(struct network *net, const double v[SEATS])
{
    struct terminals *t = &net->terminals;
    memset(t->i, 0, sizeof t->i);
    memset(t->j, 0, sizeof t->j);
    memcpy(t->v, v, sizeof t->v);
    net->ops->currents(net->chip, v, t->i, t->j);
    net->asked++;
    t->known = true;
    memset(t->in_row, 0, sizeof t->in_row);
    for (uint32_t rows = t->nodes; rows; rows &= rows - 1) {
        int k = __builtin_ctz(rows) + 1;
        if (t->j[k][k] == 0.0) /* a terminal that carries anything has a slope */
            continue;
        for (uint32_t columns = t->nodes; columns; columns &= columns - 1) {
            int m = __builtin_ctz(columns) + 1;
            t->in_row[k] |= (uint32_t)(t->j[k][m] != 0.0) << (m - 1);
        }
    }
}

static bool near(const struct terminals *t, const double v[SEATS])
{
    for (int k = 1; k < SEATS; k++)
        if (fabs(v[k] - t->v[k]) > CLOSE_V)
            return false;
    return t->known;
}

/* Currents out of the nodes into the chip, and their slopes; net->chip_a: into the chip, by position. */
void terminals_add(struct network *net, const double x[NODES], double f[NODES], struct jacobian j)
{
    struct terminals *t = &net->terminals;
    double v[SEATS];
    if (!net->ops)
        return;
    v[0] = 0;
    memcpy(v + 1, x, CHIP_POSITIONS * sizeof *x);
    if (!near(t, v))
        ask(net, v);
    for (uint32_t rows = t->nodes; rows; rows &= rows - 1) {
        int k = __builtin_ctz(rows) + 1;
        double a = t->i[k];
        for (uint32_t row = t->in_row[k]; row; row &= row - 1) {
            int m = __builtin_ctz(row) + 1;
            a += t->j[k][m] * (v[m] - t->v[m]);
            j.j[k - 1][m - 1] += t->j[k][m];
        }
        j.in_row[k - 1] |= t->in_row[k];
        f[k - 1] += net->chip_a[k] = a;
    }
}

/* The same at voltages that are no solution, without slopes; nothing is remembered. */
void terminals_add_currents(const struct network *net, const double x[NODES], double f[NODES])
{
    double v[SEATS], i[SEATS] = {0}, j[SEATS][SEATS];
    if (!net->ops)
        return;
    v[0] = 0;
    memcpy(v + 1, x, CHIP_POSITIONS * sizeof *x);
    memset(j, 0, sizeof j);
    net->ops->currents(net->chip, v, i, j);
    for (int k = 1; k < SEATS; k++)
        f[k - 1] += i[k];
}

/* Let the logic look; true if it has moved. */
bool terminals_settle(struct network *net, const double v[SEATS])
{
    bool moved = net->ops->settle(net->chip, v, net->now);
    net->terminals.known &= !moved;
    net->waiting = false;
    return moved;
}

static struct chip_course course(const struct network *net)
{
    return (struct chip_course){net->since, net->start, net->target, net->tau};
}

/* When the chip will do something by itself. */
double terminals_wait(struct network *net)
{
    if (net->waiting)
        return net->chip_wait;
    struct chip_course w = course(net);
    net->waiting = true;
    return net->chip_wait = net->ops && net->ops->wait ? net->ops->wait(net->chip, &w) : NEVER;
}

/* Let it do what is due; true if the network must be solved again. */
bool terminals_act(struct network *net)
{
    struct chip_course w = course(net);
    if (!net->ops || !net->ops->act)
        return false;
    bool moved = net->ops->act(net->chip, &w, net->now);
    net->waiting = false;
    net->terminals.known &= !moved;
    return moved;
}
