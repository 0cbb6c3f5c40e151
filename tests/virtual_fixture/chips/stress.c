/* stress.c: absolute maximum ratings.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "engine.h"

struct finding {
    int node;
    const char *what;
    double value;
};

static int report(struct finding *f, int node, const char *what, double value)
{
    *f = (struct finding){node, what, value};
    return node;
}

static int supply_stress(const struct chip *c, const double *v, const double *i,
                         struct finding *f)
{
    double supply = v[c->vcc] - v[c->gnd];
    if (supply > c->rating.supply_v)
        return report(f, c->vcc, "supply too high", supply);
    if (supply < -0.5 && -i[c->vcc] > c->rating.reverse_a)
        return report(f, c->vcc, "supply reversed", i[c->vcc]);
    return 0;
}

static int output_stress(const struct output *o, const double *i, struct finding *f)
{
    if (o->state == STATE_LOW && i[o->node] > o->sink_max_a)
        return report(f, o->node, "output sinks too much", i[o->node]);
    if (o->state == STATE_HIGH && -i[o->node] > o->source_max_a)
        return report(f, o->node, "output sources too much", i[o->node]);
    return 0;
}

/* Below GND every pin has a clamp or a substrate diode: its current is what hurts. */
static int pin_stress(const struct chip *c, int node, const double *v, const double *i,
                      struct finding *f)
{
    double volts = v[node] - v[c->gnd];
    if (volts < -0.3 && -i[node] > c->rating.clamp_a)
        return report(f, node, "clamp to GND carries too much", i[node]);
    if (c->rating.in_above_vcc_v > 0 && v[node] - v[c->vcc] > c->rating.in_above_vcc_v
        && i[node] > c->rating.clamp_a)
        return report(f, node, "clamp to VCC carries too much", i[node]);
    if (c->rating.in_max_v > 0 && volts > c->rating.in_max_v)
        return report(f, node, "input too high", volts);
    return 0;
}

int chip_overstress(const struct chip *c, const double v[NODES], const double i[NODES],
                    const char **what, double *value)
{
    struct finding f = {0};
    if (!c->vcc || !c->gnd)
        return 0;
    int found = supply_stress(c, v, i, &f);
    for (int k = 0; !found && k < c->outputs; k++)
        found = output_stress(&c->output[k], i, &f);
    for (int k = 0; !found && k < c->inputs; k++)
        found = pin_stress(c, c->input[k].node, v, i, &f);
    for (int k = 0; !found && k < c->outputs; k++)
        found = pin_stress(c, c->output[k].node, v, i, &f);
    if (found) {
        *what = f.what;
        *value = f.value;
    }
    return found;
}
