/* adc.c: the converter: sample capacitor, reference, errors, noise, code.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>

#include "network.h"

#define ARRIVED (1 / 4096.0) /* of the reference: a quarter of a code */

static uint64_t mix(uint64_t z)
{
    z += 0x9E3779B97F4A7C15u; /* splitmix64 */
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9u;
    z = (z ^ z >> 27) * 0x94D049BB133111EBu;
    return z ^ z >> 31;
}

/* A normal deviate that depends on nothing but seed and index, so that two boards
 * that convert the same things in the same order see the same noise. */
double gaussian(uint64_t seed, uint64_t index)
{
    uint64_t a = mix(seed ^ mix(2 * index)), b = mix(seed ^ mix(2 * index + 1));
    double u = (double)((a >> 11) + 1) / 9007199254740993.0, w = (double)(b >> 11) / 9007199254740992.0;
    return sqrt(-2 * log(u)) * cos(6.283185307179586 * w);
}

static double aref(const struct network *net, double t)
{
    const struct converter *adc = &net->adc;
    double to = adc->reference == 1 ? net->target[N_V5] : net->sp.adc_reference_v[adc->reference & 3];
    return to + (adc->aref_from - to) * exp(-(t - adc->aref_since) / net->sp.adc_reference_tau_s);
}

/* REFS bits changed (or first written): the AREF capacitor starts towards the new one. */
void network_reference(struct network *net, int reference, double t)
{
    if (reference == net->adc.reference)
        return;
    network_advance(net, t);
    net->adc.aref_from = net->adc.reference < 0 ? 0 : aref(net, t);
    net->adc.aref_since = t;
    net->adc.reference = reference;
}

/* Volts at the pin; within a quarter of a code of the end they have arrived, so that no
 * code hangs on the microsecond at which the last millivolt was looked at. */
static double at_pin(const struct network *net, int pin, double t)
{
    double v = network_pin_v(net, pin, t), end = network_pin_v(net, pin, NEVER);
    return fabs(v - end) < aref(net, t) * ARRIVED ? end : v;
}

/* The sample capacitor shares its old charge with the node's capacitance and then
 * follows through the source and the converter's own series resistance. */
static void sample(struct network *net, int pin, double acquire_s, double t)
{
    const struct specimen *sp = &net->sp;
    if (sp->pin_fault[pin] == FAULT_OPEN)
        return; /* nothing to share the charge with */
    double source_ohm = 100, node_f = 1e-10, v = at_pin(net, pin, t);
    if (sp->pin_net[pin] == NET_K)
        node_f = sp->k_f;
    double share = sp->adc_sample_f / (sp->adc_sample_f + node_f);
    if (sp->pin_net[pin] == NET_K)
        source_ohm = solve_tau_k(net, (net->adc.held_v - v) * share) / sp->k_f;
    double disturbed = (net->adc.held_v - v) * share * exp(-acquire_s / (source_ohm * (node_f + sp->adc_sample_f)));
    double own = (net->adc.held_v - v) * exp(-acquire_s / (sp->adc_sample_ohm * sp->adc_sample_f));
    net->adc.held_v = v + disturbed + own;
}

/* One conversion whose sample is taken at t, after the input was connected for
 * acquire_s.  Channel 0..15; reference: REFS code.  Code 0..1023. */
int network_convert(struct network *net, int channel, int reference, double acquire_s, double t)
{
    const struct specimen *sp = &net->sp;
    network_follow(net, t);
    network_reference(net, reference, t);
    int pin = channel < 8 ? 5 * 8 + channel : 9 * 8 + channel - 8; /* PF0.. and PK0.. */
    sample(net, pin, acquire_s, t);
    double x = net->adc.held_v / larger(aref(net, t), 0.05), bend = 0;
    for (int n = 0; n < 3; n++) /* smooth integral non-linearity, nought at both ends */
        bend += sp->adc_inl_lsb[n] * sin(6.283185307179586 * (n + 1) * x + sp->adc_inl_phase[n]) -
                sp->adc_inl_lsb[n] * net->adc.phase_sin[n];
    double noise = sp->adc_noise_lsb * gaussian(sp->adc_noise_seed, net->adc.conversions++);
    double code = floor(x * 1024 * sp->adc_gain + sp->adc_offset_lsb + bend + noise);
    return code < 0 ? 0 : code > 1023 ? 1023 : (int)code;
}
