/* pattern.c: which terminals' currents hang on which terminals' voltages.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <string.h>
#include "engine.h"

/* Each of these hangs on all of these. */
static void together(uint32_t columns[NODES], uint32_t nodes)
{
    for (int k = 1; k < NODES; k++)
        if (nodes >> k & 1)
            columns[k] |= nodes >> 1;
}

static uint32_t bits(int count, const int *nodes)
{
    uint32_t all = 0;
    for (int k = 0; k < count; k++)
        all |= 1u << nodes[k];
    return all;
}

int chip_pattern(const struct chip *c, uint32_t columns[NODES])
{
    const uint32_t rails = 1u << c->vcc | 1u << c->gnd;
    int bonded = 0;
    memset(columns, 0, sizeof(uint32_t[NODES]));
    together(columns, rails);
    for (int k = 0; k < c->diodes; k++)
        together(columns, 1u << c->diode[k].a | 1u << c->diode[k].k);
    for (int k = 0; k < c->resistors; k++)
        together(columns, 1u << c->resistor[k].a | 1u << c->resistor[k].b);
    for (int k = 0; k < c->gates; k++)
        together(columns, 1u << c->gate[k].a | 1u << c->gate[k].b);
    for (int k = 0; k < c->leaks; k++)
        together(columns, 1u << c->leak[k].a | 1u << c->leak[k].b);
    for (int k = 0; k < c->bases; k++)
        together(columns, bits(c->base[k].count, c->base[k].pins) | rails);
    for (int k = 0; k < c->throughs; k++)
        together(columns, 1u << c->through[k].pin | rails);
    for (int k = 0; k < c->outputs; k++)
        together(columns, 1u << c->output[k].node | rails);
    for (int k = 0; k < c->timers; k++)
        together(columns, 1u << c->timer[k].node | 1u << c->timer[k].cx | rails);
    for (int k = 1; k < NODES; k++)
        if (c->input_curve[k])
            together(columns, bits(c->input_curve[k]->sharers, c->input_curve[k]->sharer) | rails);
    for (int k = 1; k < NODES; k++)
        bonded |= c->series_ohm[k] > 0;
    uint32_t all = 0;
    for (int k = 1; k < NODES; k++)
        all |= (uint32_t)(columns[k] != 0 || c->series_ohm[k] > 0) << k;
    if (bonded)     /* behind a bond wire's resistance everything may hang on everything */
        together(columns, all);
    return !bonded;
}
