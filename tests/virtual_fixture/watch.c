/* watch.c: what must never happen, looked for at every solution.
 *
 * Limits are those of the controller's and the multiplexers' data sheets, as
 * hardware/wiring.toml gives them.  One record an episode: a rule is written down when
 * it starts to be broken and again only after it was kept meanwhile.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "network.h"

#define SHORT_A 0.012      /* a strong line that delivers more ... */
#define SHORT_V 0.1        /* ... into a position this close to the other rail is shorted */
#define SHORT_GRACE_S 2e-3 /* the firmware's own limit is 1 ms */

enum { RULE_MUX = SEATS + PINS + GROUPS, RULE_TOTAL, RULE_CHIP, RULE_LOAD };

void watch_add(struct network *net, const char *what, const char *where, double value)
{
    struct watch *w = &net->watch;
    if (w->count < VIOLATIONS) {
        struct violation *v = &w->list[w->count];
        v->moment_s = net->now;
        v->value = value;
        snprintf(v->what, sizeof v->what, "%s", what);
        snprintf(v->where, sizeof v->where, "%s", where);
    }
    w->count++;
}

static void rule(struct network *net, int number, bool broken, const char *what, const char *where, double value)
{
    if (!broken && !net->watch.open[number])
        return;
    if (broken && !net->watch.open[number])
        watch_add(net, what, where, value);
    net->watch.broken += broken - net->watch.open[number];
    net->watch.open[number] = broken;
}

static void pin_rule(struct network *net, int pin, bool broken, const char *what, double value)
{
    char name[4] = {'P', "ABCDEFGHJKL"[pin / 8], (char)('0' + pin % 8), 0};
    rule(net, SEATS + pin, broken, what, name, value);
}

static bool driven(const struct network *net, int pin)
{
    return net->ddr[pin / 8] >> pin % 8 & 1;
}

static bool must_not_drive(enum pin_net n)
{
    return n == NET_K || n == NET_ICC || n == NET_VDAC || n == NET_VREF || n == NET_OE_N || n == NET_BUTTON ||
           n == NET_SER_BACK;
}

static void pins(struct network *net)
{
    const struct specimen *sp = &net->sp;
    struct watch *w = &net->watch;
    double out[GROUPS] = {0}, in[GROUPS] = {0}, total_out = 0, total_in = 0;
    for (int n = 0; n < net->shape.carriers; n++) {
        int p = net->shape.carrier[n];
        if (!driven(net, p) || must_not_drive(sp->pin_net[p]))
            continue;
        double a = network_pin_a(net, p, net->target);
        w->peak_pin_a = larger(w->peak_pin_a, fabs(a));
        pin_rule(net, p, fabs(a) > sp->pin_limit_a, "port pin current", a);
        if (sp->pin_group[p] >= 0) {
            out[sp->pin_group[p]] += larger(0, a);
            in[sp->pin_group[p]] += larger(0, -a);
        }
        total_out += larger(0, a);
        total_in += larger(0, -a);
    }
    for (int g = 0; g < GROUPS; g++) {
        double most = larger(out[g], in[g]);
        w->peak_group_a[g] = larger(w->peak_group_a[g], most);
        char name[3] = {'G', (char)('1' + g), 0};
        rule(net, SEATS + PINS + g, most > sp->group_limit_a[g], "port group current", name, most);
    }
    double most = larger(total_out, total_in);
    w->peak_total_a = larger(w->peak_total_a, most);
    rule(net, RULE_TOTAL, most > sp->total_limit_a, "controller supply current", "total", most);
}

static void selectors(struct network *net)
{
    const struct specimen *sp = &net->sp;
    double most = 0;
    for (int m = 0; m < MUXES; m++)
        if (net->drive.tied[m]) {
            int c = net->drive.tied[m] - 1, node = sp->sense_position[m][c] - 1;
            /* at least: the resistance at half the supply is higher than at the rails */
            most = larger(most, fabs(net->target[node] - net->target[N_K]) / sp->sense_ron_ohm[m][c] /
                                  (1 + sp->mux_peak));
        }
    rule(net, RULE_MUX, most > sp->mux_limit_a, "multiplexer current", "K", most);
    rule(net, RULE_LOAD, fabs(net->vdac_a) > sp->mux_limit_a, "multiplexer current", "U4", net->vdac_a);
}

/* Duration of a strong drive against a short: it is let off for SHORT_GRACE_S. */
static void shorts(struct network *net)
{
    const struct specimen *sp = &net->sp;
    struct watch *w = &net->watch;
    w->shorted = false;
    for (int k = 1; k < SEATS; k++) {
        double v = net->target[k - 1], a = 0;
        uint8_t s = net->drive.strong[k];
        if (s == LINE_HIGH || s == LINE_LOW)
            a = network_pin_a(net, sp->strong_pin[k], net->target);
        bool held = (s == LINE_HIGH && v < SHORT_V) || (s == LINE_LOW && v > net->target[N_V5] - SHORT_V);
        /* a line that is stuck cannot be let go of: the fixture's defect, not the program's doing */
        bool shorted = held && fabs(a) > SHORT_A && !sp->pin_fault[sp->strong_pin[k]];
        w->shorted |= shorted;
        if (!shorted) {
            if (w->short_since[k] > 0)
                w->longest_short_s = larger(w->longest_short_s, net->now - w->short_since[k]);
            w->short_since[k] = 0;
            rule(net, k, false, "", "", 0);
            continue;
        }
        if (w->short_since[k] <= 0)
            w->short_since[k] = larger(net->now, 1e-12);
        double lasts = net->now - w->short_since[k];
        w->longest_short_s = larger(w->longest_short_s, lasts);
        char where[24] = "";
        if (lasts > SHORT_GRACE_S)
            snprintf(where, sizeof where, "position %d, %.1f ms", k, lasts * 1e3);
        rule(net, k, lasts > SHORT_GRACE_S, "strong drive against a short", where, a);
    }
}

static void chip(struct network *net)
{
    double v[SEATS] = {0}, value = 0;
    const char *what = "";
    int where = 0;
    if (net->ops && net->ops->overstress) {
        memcpy(v + 1, net->target, CHIP_POSITIONS * sizeof *v);
        where = net->ops->overstress(net->chip, v, net->chip_a, &what, &value);
    }
    char text[24] = "";
    if (where)
        snprintf(text, sizeof text, "position %d", where);
    rule(net, RULE_CHIP, where != 0, what, text, value);
}

/* After every change of a port register, solved or not. */
void watch_ports(struct network *net)
{
    for (int p = 0; p < PINS; p++)
        if (must_not_drive(net->sp.pin_net[p]))
            pin_rule(net, p, driven(net, p), "output drives a sensed or switched net", 0);
}

static int first_on(const uint8_t on[SEATS])
{
    for (int k = 1; k < SEATS; k++)
        if (on[k])
            return k;
    return 0;
}

static void rails(struct network *net)
{
    struct rails *r = &net->watch.rails;
    if (r->supply) {
        r->volt_s += (r->vcc_v - r->gnd_v) * (net->now - r->since_s);
        r->powered_s += net->now - r->since_s;
    }
    int supply = first_on(net->drive.supply), ground = first_on(net->drive.ground);
    r->since_s = net->now;
    r->supply = r->ground = 0;
    if (!supply || !ground)
        return;
    r->supply = supply;
    r->ground = ground;
    r->vcc_v = net->target[supply - 1];
    r->gnd_v = net->target[ground - 1];
    double v = r->vcc_v - r->gnd_v;
    bool first = r->high_v == 0;
    r->low_v = first ? v : smaller(r->low_v, v);
    r->high_v = first ? v : larger(r->high_v, v);
}

/* After every solution, and every millisecond while a strong line meets a short. */
void watch_solution(struct network *net)
{
    struct watch *w = &net->watch;
    rails(net);
    if (w->seen && w->calm && net->shape.plain)
        return;
    pins(net);
    selectors(net);
    shorts(net);
    chip(net);
    w->seen = true;
    w->calm = !w->shorted && !w->broken;
    if (w->calm)
        recall_tell_calm(net);
}
