/* bridge.c: two nets of the board joined by solder or a whisker: a defect of the fixture.
 *
 * An end is a controller pin in front of its series resistor, or a node of the network.
 * Both ends are taken as points of their own, each with a conductance to its node and
 * one to its driver's rail, joined by the bridge; Kirchhoff's rule for the two points is
 * solved by hand, so the network gets no further nodes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "network.h"

#define STIFF_S 1e3   /* of an end that is a node itself */
#define FLOATING_S 1e-12

struct end {
    int node;               /* behind the series resistor, -1: none */
    double series_s, own_s; /* to the node; to the rail of its driver */
    bool high;              /* that rail is V5 */
};

struct joint {
    struct end a, b;
    double bridge_s, a_v, b_v, of_a, of_b; /* of_*: sum of conductances at the point */
    double determinant;
};

static void driver(const struct network *net, int pin, struct end *e)
{
    const struct specimen *sp = &net->sp;
    switch (network_line(net, pin)) {
    case LINE_HIGH: e->own_s = 1 / sp->driver_high_ohm[pin]; break;
    case LINE_LOW: e->own_s = 1 / sp->driver_low_ohm[pin]; return;
    case LINE_PULL_UP: e->own_s = 1 / sp->pull_up_ohm[pin]; break;
    default: return;
    }
    e->high = true;
}

static struct end describe(const struct network *net, int number)
{
    const struct specimen *sp = &net->sp;
    struct end e = {-1, FLOATING_S, FLOATING_S, false};
    if (number == END_GROUND) {
        e.own_s = STIFF_S;
    } else if (number >= END_NODE) {
        e.node = number - END_NODE;
        e.series_s = STIFF_S;
    } else {
        int k = sp->pin_index[number];
        driver(net, number, &e);
        if (sp->pin_net[number] == NET_STRONG || sp->pin_net[number] == NET_MEDIUM) {
            e.node = k - 1;
            e.series_s = 1 / (sp->pin_net[number] == NET_STRONG ? sp->strong_ohm[k] : sp->medium_ohm[k]);
        } else if (sp->load_kind[net->drive.load] == LOAD_LD) { /* LD */
            e.node = N_K;
            e.series_s = 1 / (sp->load_ohm[net->drive.load] + sp->load_ron_ohm[net->drive.load]);
        }
    }
    return e;
}

/* What drives a point but the bridge, amperes into it at 0 V. */
static double source(const struct end *e, const double x[NODES])
{
    return (e->node < 0 ? 0 : e->series_s * x[e->node]) + (e->high ? e->own_s * x[N_V5] : 0);
}

static struct joint join(const struct network *net, int n, const double x[NODES])
{
    struct joint q = {.a = describe(net, net->sp.bridge_a[n]), .b = describe(net, net->sp.bridge_b[n])};
    q.bridge_s = 1 / net->sp.bridge_ohm[n];
    q.of_a = q.a.series_s + q.a.own_s + q.bridge_s;
    q.of_b = q.b.series_s + q.b.own_s + q.bridge_s;
    q.determinant = q.of_a * q.of_b - q.bridge_s * q.bridge_s;
    double a = source(&q.a, x), b = source(&q.b, x);
    q.a_v = (q.of_b * a + q.bridge_s * b) / q.determinant;
    q.b_v = (q.of_a * b + q.bridge_s * a) / q.determinant;
    return q;
}

static void add(struct jacobian j, int n, int by, double g)
{
    j.j[n][by] += g;
    j.in_row[n] |= 1u << by;
}

/* Current g (x[n] - v) that leaves node n, where v is a point of the joint: `own` and `far` say how the point
 * follows a conductance to its own side and to the other side. */
static void leave(int n, double g, double v, const struct end *here, const struct end *there, double own, double far,
                  const double x[NODES], double f[NODES], struct jacobian j)
{
    if (n < 0)
        return;
    f[n] += g * (x[n] - v);
    add(j, n, n, g);
    if (here->node >= 0)
        add(j, n, here->node, -g * own * here->series_s);
    if (there->node >= 0)
        add(j, n, there->node, -g * far * there->series_s);
    add(j, n, N_V5, -g * (own * (here->high ? here->own_s : 0) + far * (there->high ? there->own_s : 0)));
}

void bridge_currents(const struct network *net, const double x[NODES], double f[NODES], struct jacobian j)
{
    for (int n = 0; n < net->sp.bridges; n++) {
        struct joint q = join(net, n, x);
        double far = q.bridge_s / q.determinant;
        const struct end *a = &q.a, *b = &q.b;
        leave(a->node, a->series_s, q.a_v, a, b, q.of_b / q.determinant, far, x, f, j);
        leave(b->node, b->series_s, q.b_v, b, a, q.of_a / q.determinant, far, x, f, j);
        leave(a->high ? N_V5 : -1, a->own_s, q.a_v, a, b, q.of_b / q.determinant, far, x, f, j);
        leave(b->high ? N_V5 : -1, b->own_s, q.b_v, b, a, q.of_a / q.determinant, far, x, f, j);
    }
}

/* Volts at a bridged controller pin, and the current out of its driver. */
double bridge_pin_v(const struct network *net, int pin, const double x[NODES], double *out_a)
{
    struct joint q = join(net, net->sp.pin_bridge[pin] - 1, x);
    bool first = net->sp.bridge_a[net->sp.pin_bridge[pin] - 1] == pin;
    const struct end *e = first ? &q.a : &q.b;
    double v = first ? q.a_v : q.b_v;
    *out_a = e->own_s > FLOATING_S ? e->own_s * ((e->high ? x[N_V5] : 0) - v) : 0;
    return v;
}
