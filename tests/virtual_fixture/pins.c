/* pins.c: what a controller pin carries and reads.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

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
        return fmax(0, (v - net->sp.lamp_v) / net->sp.lamp_ohm);
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
            return fmin(v5 - 0.01, fmax(0.01, net->level.f2 + net->sp.buffer_offset_v));
        double k = network_node(net, N_K, t);
        double ohm = net->sp.load_ohm[net->drive.load] + net->sp.load_ron_ohm[net->drive.load];
        double v = fmin(v5 - 0.01, fmax(0.01, net->level.f2 + net->sp.buffer_offset_v));
        double i = net->vdac_a; /* the buffer may give way under load */
        return i > 0 ? fmin(v, fmax(k + i * ohm, v5 - i * net->sp.buffer_ohm))
                     : fmax(v, fmin(k + i * ohm, -i * net->sp.buffer_ohm));
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

/* The PIN register: each pin against its threshold, with hysteresis. */
uint8_t network_pins(struct network *net, int port, double t)
{
    network_look(net, t);
    double v5 = network_node(net, N_V5, t);
    for (int b = 0; b < 8; b++) {
        int pin = port * 8 + b;
        if (net->sp.pin_net[pin] == NET_OE_N)
            deadman_advance(net, net->now);
        bool was = net->schmitt[port] >> b & 1;
        double edge = net->sp.pin_threshold[pin] * v5 + (was ? -0.5 : 0.5) * net->sp.pin_hysteresis_v;
        bool is = network_pin_v(net, pin, t) > edge;
        net->schmitt[port] = (uint8_t)((net->schmitt[port] & ~(1u << b)) | (unsigned)is << b);
    }
    return net->schmitt[port];
}
