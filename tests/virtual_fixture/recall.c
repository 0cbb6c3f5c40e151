/* recall.c: solutions of drives that have been there before.
 *
 * A test goes back to the same few states thousands of times: node K let go of between two readings, a clock that
 * is low again.  What the nodes do then hangs on the drive and on what the chip's outputs want, on nothing else; so the
 * solution, and the time constants at it, are kept.  A moving level (its solutions follow a slope, slide.c), and a chip that
 * does not tell its state, are solved each time.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <stdlib.h>
#include <string.h>

#include "network.h"

#define PLACES 512 /* a power of two; a newcomer takes the place */

struct kept {
    bool here, calm; /* calm: looked at, and no rule broken */
    uint64_t state;
    struct drive drive;
    double target[NODES], tau[NODES], chip_a[SEATS];
    bool with_k[NODES];
};

struct recall {
    struct kept place[PLACES];
};

static uint64_t mix(uint64_t h, const void *data, size_t n)
{
    const uint8_t *byte = data;
    for (uint64_t word; n >= sizeof word; n -= sizeof word, byte += sizeof word) {
        memcpy(&word, byte, sizeof word);
        h = (h ^ word) * 0x9E3779B97F4A7C15u;
        h ^= h >> 32;
    }
    while (n--)
        h = (h ^ *byte++) * 0x100000001B3u;
    return h;
}

/* Where the present drive and state of the chip belong; NULL if such are not kept. */
static struct kept *place(struct network *net, uint64_t *state)
{
    if (net->sp.load_kind[net->drive.load] == LOAD_VDAC || (net->ops && !net->ops->state))
        return NULL;
    if (!net->recall)
        net->recall = calloc(1, sizeof *net->recall);
    if (!net->recall)
        return NULL;
    *state = net->ops ? net->ops->state(net->chip) : 0;
    return &net->recall->place[mix(mix(0, &net->drive, sizeof net->drive), state, sizeof *state) % PLACES];
}

bool recall_solution(struct network *net, double x[NODES])
{
    uint64_t state;
    struct kept *k = place(net, &state);
    if (!k || !k->here || k->state != state || memcmp(&k->drive, &net->drive, sizeof k->drive))
        return false;
    memcpy(x, k->target, sizeof k->target);
    memcpy(net->tau, k->tau, sizeof k->tau);
    memcpy(net->with_k, k->with_k, sizeof k->with_k);
    memcpy(net->chip_a, k->chip_a, sizeof k->chip_a);
    net->vdac_a = 0;
    net->recalled = k;
    return true;
}

void recall_keep(struct network *net)
{
    uint64_t state;
    struct kept *k = place(net, &state);
    if (!k)
        return;
    k->here = true;
    k->calm = false;
    net->recalled = k;
    k->state = state;
    k->drive = net->drive;
    memcpy(k->target, net->target, sizeof k->target);
    memcpy(k->tau, net->tau, sizeof k->tau);
    memcpy(k->with_k, net->with_k, sizeof k->with_k);
    memcpy(k->chip_a, net->chip_a, sizeof k->chip_a);
}

/* The present solution was looked at when it was here before: no rule was broken. */
bool recall_calm(const struct network *net)
{
    return net->recalled && net->recalled->calm;
}

void recall_tell_calm(struct network *net)
{
    if (net->recalled)
        net->recalled->calm = true;
}

void recall_forget(struct network *net)
{
    net->recalled = NULL;
    free(net->recall);
    net->recall = NULL;
}
