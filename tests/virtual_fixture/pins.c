/* pins.c: what a controller pin carries and reads.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>

#include "network.h"

static double series_ohm(const struct network *net, int pin, int *node)
{
    const struct specimen *sp = &net->sp;
    int k = sp->pin_index[pin];
    *node = -1;
    switch (sp->pin_net[pin]) {
    case NET_STRONG: *node = k - 1; return sp->strong_ohm[k];
    case NET_MEDIUM: *node = k - 1; return sp->medium_ohm[k];
    case NET_LD:
        if (sp->load_kind[net->drive.load] == LOAD_LD) {
            *node = N_K;
            return sp->load_ohm[net->drive.load] + sp->load_ron_ohm[net->drive.load];
        }
        return 0;
    default: return 0;
    }
}

/* Source voltage and resistance of the pin's own driver or pull-up; 0 ohm: none. */
static double own_ohm(const struct network *net, int pin, double v5, double *v)
{
    enum line state = network_line(net, pin);
    *v = state == LINE_HIGH || state == LINE_PULL_UP ? v5 : 0;
    switch (state) {
    case LINE_HIGH: return net->sp.driver_high_ohm[pin];
    case LINE_LOW: return net->sp.driver_low_ohm[pin];
    case LINE_PULL_UP: return net->sp.pull_up_ohm[pin];
    default: return 0;
    }
}

/* Current out of the pin with the nodes at these voltages. */
double network_pin_a(const struct network *net, int pin, const double *node)
{
    int n;
    if (net->sp.pin_bridge[pin]) {
        double out_a;
        bridge_pin_v(net, pin, node, &out_a);
        return out_a;
    }
    double series = series_ohm(net, pin, &n), v, own = own_ohm(net, pin, node[N_V5], &v);
    if (net->sp.pin_net[pin] == NET_LAMP && v > 0 && own > 0)
        return larger(0, (v - net->sp.lamp_v) / net->sp.lamp_ohm);
    return n < 0 || own == 0 ? 0 : (v - node[n]) / (series + own);
}

double network_pin_v(const struct network *net, int pin, double t)
{
    double v5 = network_node(net, N_V5, t), own_v, own = own_ohm(net, pin, v5, &own_v);
    int n;
    double series = series_ohm(net, pin, &n);
    switch (net->sp.pin_fault[pin]) {
    case FAULT_LOW: case FAULT_HIGH:
        if (n < 0)
            return own_v;
        break;
    case FAULT_OPEN: /* a floating input stays on the side where it was */
        return (net->schmitt[pin / 8] >> pin % 8 & 1) ? v5 : 0;
    default: break;
    }
    if (net->sp.pin_bridge[pin]) {
        double x[NODES], out_a;
        for (int i = 0; i < NODES; i++)
            x[i] = network_node(net, i, t);
        return bridge_pin_v(net, pin, x, &out_a);
    }
    switch (net->sp.pin_net[pin]) {
    case NET_K: return network_node(net, N_K, t);
    case NET_VREF: return network_node(net, N_VREF, t);
    case NET_ICC: return network_icc_v(net, network_node(net, N_VBUS, t), v5);
    case NET_VDAC: {
        if (net->sp.load_kind[net->drive.load] != LOAD_VDAC)
            return smaller(v5 - 0.01, larger(0.01, net->level.f2 + net->sp.buffer_offset_v));
        double k = network_node(net, N_K, t);
        double ohm = net->sp.load_ohm[net->drive.load] + net->sp.load_ron_ohm[net->drive.load];
        double v = smaller(v5 - 0.01, larger(0.01, net->level.f2 + net->sp.buffer_offset_v));
        double i = net->vdac_a; /* the buffer may give way under load */
        return i > 0 ? smaller(v, larger(k + i * ohm, v5 - i * net->sp.buffer_ohm))
                     : larger(v, smaller(k + i * ohm, -i * net->sp.buffer_ohm));
    }
    case NET_OE_N: return deadman_oe_v(net);
    case NET_BUTTON: return net->button ? 0 : own_v;
    case NET_SER_BACK: return net->chain.shift[2] >> 7 ? v5 : 0;
    case NET_INH: return own > 0 ? own_v : v5;
    case NET_RXD: return v5;
    default: break;
    }
    if (n < 0)
        return own_v;
    double z = network_node(net, n, t);
    return own > 0 ? z + (own_v - z) * series / (series + own) : z;
}

/* The nodes go straight to their ends, and so does what a pin sees of them: where both it now and it then are on the
 * same side of the threshold, all between is.  The supply, which the threshold and the pin's own driver follow, moves
 * by `rail_v` meanwhile; a moving level takes nodes along, by no more than itself. */
static bool stays(const struct network *net, int pin, double v, double edge, bool is, double rail_v)
{
    double end = network_pin_v(net, pin, NEVER), margin = 3 * fabs(rail_v) + 1e-6;
    margin += net->sp.load_kind[net->drive.load] == LOAD_VDAC ? 2 * SLIDE_MOST_V : 0;
    return is ? smaller(v, end) > edge + margin : larger(v, end) < edge - margin;
}

static bool pin_level(struct network *net, int pin, double v5, double t, bool *sure)
{
    const struct specimen *sp = &net->sp;
    if (sp->pin_net[pin] == NET_OE_N)
        deadman_advance(net, net->now);
    bool was = net->schmitt[pin / 8] >> pin % 8 & 1;
    double half = 0.5 * sp->pin_hysteresis_v, middle = sp->pin_threshold[pin] * v5, v = network_pin_v(net, pin, t);
    bool is = v > middle + (was ? -half : half);
    *sure = stays(net, pin, v, middle + (is ? -half : half), is, v5 - net->target[N_V5]);
    return is;
}

/* The PIN register: each pin against its threshold, with hysteresis. */
uint8_t network_pins(struct network *net, int port, double t)
{
    struct look *look = &net->look[port];
    network_look(net, t);
    if (look->epoch != net->epoch)
        *look = (struct look){net->epoch, 0};
    uint8_t ask = (uint8_t)(~look->sure | net->shape.live[port]);
    double v5 = ask ? network_node(net, N_V5, t) : 0;
    for (; ask; ask &= ask - 1) {
        int b = __builtin_ctz(ask);
        bool sure, is = pin_level(net, port * 8 + b, v5, t, &sure);
        net->schmitt[port] = (uint8_t)((net->schmitt[port] & ~(1u << b)) | (unsigned)is << b);
        look->sure = (uint8_t)(look->sure | (unsigned)sure << b);
    }
    return net->schmitt[port];
}

static bool sets_drive(enum pin_net n)
{
    return n == NET_STRONG || n == NET_MEDIUM || n == NET_INH || n == NET_LD || n == NET_LAMP;
}

static bool is_live(const struct specimen *sp, int pin)
{
    enum pin_net n = sp->pin_net[pin];
    return sp->pin_bridge[pin] || n == NET_ICC || n == NET_VDAC || n == NET_OE_N || n == NET_BUTTON || n == NET_SER_BACK;
}

void pins_shape(struct network *net)
{
    const struct specimen *sp = &net->sp;
    struct shape *s = &net->shape;
    *s = (struct shape){.plain = sp->bridges == 0};
    for (int p = 0; p < PINS; p++) {
        enum pin_net n = sp->pin_net[p];
        s->plain &= !sp->pin_fault[p];
        s->drives[p / 8] |= (uint8_t)(sets_drive(n) << p % 8);
        s->live[p / 8] |= (uint8_t)(is_live(sp, p) << p % 8);
        if (n != NET_NONE && (sets_drive(n) || sp->pin_bridge[p]))
            s->carrier[s->carriers++] = (uint8_t)p;
    }
    memset(net->look, 0, sizeof net->look);
    for (int n = 0; n < 3; n++)
        net->adc.phase_sin[n] = sin(sp->adc_inl_phase[n]);
}
