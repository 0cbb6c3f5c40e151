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

void terminals_chip(struct network *net)
{
    struct terminals *t = &net->terminals;
    *t = (struct terminals){.nodes = (1u << CHIP_POSITIONS) - 1};
    for (int k = 1; k < SEATS; k++)
        t->may[k] = t->nodes;
    if (!net->ops || !net->ops->pattern)
        return;
    t->exact = net->ops->pattern(net->chip, t->may);
    t->nodes = 0;
    for (int k = 1; k < SEATS; k++)
        t->nodes |= (uint32_t)(t->may[k] != 0) << (k - 1);
    memcpy(t->in_row, t->may, sizeof t->in_row);
}

static uint32_t columns(const double row[SEATS], uint32_t may)
{
    uint32_t found = 0;
    for (; may; may &= may - 1) {
        int m = __builtin_ctz(may) + 1;
        found |= (uint32_t)(row[m] != 0.0) << (m - 1);
    }
    return found;
}

static void ask(struct network *net, const double v[SEATS])
{
    struct terminals *t = &net->terminals;
    memset(t->i, 0, sizeof t->i);
    for (uint32_t rows = t->nodes; rows; rows &= rows - 1) {
        int k = __builtin_ctz(rows) + 1;
        for (uint32_t row = t->may[k]; row; row &= row - 1)
            t->j[k][__builtin_ctz(row) + 1] = 0;
    }
    memcpy(t->v, v, sizeof t->v);
    net->ops->currents(net->chip, v, t->i, t->j);
    net->asked++;
    t->known = true;
    for (int k = 1; k < SEATS && !t->exact; k++) /* a terminal that carries anything has a slope */
        t->in_row[k] = t->j[k][k] != 0.0 ? columns(t->j[k], t->may[k]) : 0;
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
void terminals_add_currents(struct network *net, const double x[NODES], double f[NODES])
{
    double v[SEATS], i[SEATS] = {0};
    if (!net->ops)
        return;
    v[0] = 0;
    memcpy(v + 1, x, CHIP_POSITIONS * sizeof *x);
    net->ops->currents(net->chip, v, i, net->chip_slopes);
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
