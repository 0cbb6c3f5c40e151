// Two-layer grid router with negotiated congestion, after McMurchie and Ebeling, "PathFinder: a negotiation-based
// performance-driven router for FPGAs" (FPGA 1995): every net takes its cheapest way; places that two nets want become
// dearer from round to round until each is left to one.  Then a second pass lays every net anew between the others,
// with bends at a price, so that staircases become straight tracks.
//
// C because a round searches some hundred million cells: minutes here, hours in Python.  Run by the designer only;
// its result is committed and checked by tools that share nothing with it.
//
//   route ROUNDS SEED < input > output        (input: layout.py, router_input; output: net, then corners "layer x y")
//
// SPDX-License-Identifier: CERN-OHL-S-2.0
#include "route_board.h"
#include <math.h>
#include <stdio.h>

static double pressure = 0.3;
static int polishing;                                           // second pass: foreign copper is a wall, bends cost

static const int step_x[8] = {1, 1, 0, -1, -1, -1, 0, 1};       // by eighths of a turn
static const int step_y[8] = {0, 1, 1, 1, 0, -1, -1, -1};
static const float VIA_COST = 14, BEND_COST[5] = {0, 1.5F, 6, 1e9F, 1e9F};

typedef struct { float key; int state; } Entry;
static Entry *heap;
static int heap_count, heap_room;

static void push(float key, int state)
{
    if (heap_count == heap_room)
        heap = realloc(heap, sizeof *heap * (size_t)(heap_room = heap_room ? heap_room * 2 : 1 << 20));
    int i = heap_count++;
    for (; i && heap[(i - 1) / 2].key > key; i = (i - 1) / 2)
        heap[i] = heap[(i - 1) / 2];
    heap[i] = (Entry){key, state};
}

static Entry pop(void)
{
    Entry top = heap[0], last = heap[--heap_count];
    int i = 0;
    for (int c; (c = 2 * i + 1) < heap_count; i = c) {
        if (c + 1 < heap_count && heap[c + 1].key < heap[c].key)
            c++;
        if (heap[c].key >= last.key)
            break;
        heap[i] = heap[c];
    }
    heap[i] = last;
    return top;
}

// ---------------------------------------------------------------- search for one net
// A state is a node (layer * cells + cell), and while polishing also the direction it was entered by (8: none).
static float *cost;
static int *from, *seen, epoch, *tree, tree_count, *goal;      // goal[cell]: pad of the net to be reached, +1
static int goal_x0, goal_y0, goal_x1, goal_y1;

static int directions(void) { return polishing ? 9 : 1; }
static int node_of(int state) { return state / directions(); }

static float ahead(int cell)
{
    int x = cell % width, y = cell / width;
    float dx = (float)fmax(0, fmax(goal_x0 - x, x - goal_x1)), dy = (float)fmax(0, fmax(goal_y0 - y, y - goal_y1));
    return fmaxf(dx, dy) + 0.41F * fminf(dx, dy);
}

static int pad_cell(const Net *n, int k)
{
    const Pad *p = &pads[n->pad[k]];
    return (int)lround((p->y - top_y) / pitch) * width + (int)lround((p->x - left_x) / pitch);
}

static void reach(int state, float so_far, int before)
{
    if (seen[state] == epoch && so_far >= cost[state] - 1e-4F)
        return;
    seen[state] = epoch;
    cost[state] = so_far;
    from[state] = before;
    push(so_far + ahead(node_of(state) % cells), state);
}

// What being at a cell costs beyond the way; below 0: not allowed.
static float burden(int net, int kind, int layer, int cell)
{
    uint16_t owner = blocked[kind][cell];
    if (outside[cell] || (owner && (kind == VIA || owner != net + 1)))
        return -1;
    int near = taken[kind][kind == VIA ? 0 : layer][cell];
    if (polishing)
        return near ? -1 : 0;
    return (float)(pressure * near) + history[layer][cell];
}

static void expand(int net, int state)
{
    int node = node_of(state), layer = node / cells, cell = node % cells, came = polishing ? state % 9 : 8;
    int x = cell % width, y = cell / width, kind = nets[net].kind;
    float extra = burden(net, VIA, layer, cell), landing = burden(net, kind, 1 - layer, cell);
    if (extra >= 0 && landing >= 0) {
        int other = (1 - layer) * cells + cell;
        reach(polishing ? other * 9 + 8 : other, cost[state] + VIA_COST + 4 * extra + landing, state);
    }
    for (int d = 0; d < 8; d++) {
        int u = x + step_x[d], v = y + step_y[d];
        if (u < 0 || v < 0 || u >= width || v >= height || (extra = burden(net, kind, layer, v * width + u)) < 0)
            continue;
        float length = d % 2 ? 1.4142F : 1;
        if (d % 4 == (layer ? 0 : 2))                           // top runs across, bottom up and down
            length *= 1.25F;
        float way = cost[state] + length * (1 + extra);
        if (came < 8) {
            int bend = abs(d - came);
            way += BEND_COST[bend > 4 ? 8 - bend : bend];
        }
        if (way < cost[state] + 1e6F)
            reach(polishing ? (layer * cells + v * width + u) * 9 + d : layer * cells + v * width + u, way, state);
    }
}

static void append(Path *p, int node)
{
    if (p->count == p->room)
        p->node = realloc(p->node, sizeof(int) * (size_t)(p->room = p->room ? p->room * 2 : 256));
    p->node[p->count++] = node;
}

// From the tree laid so far to the nearest pad not yet reached; 0 if there is no way.
static int connect(int net, int *left, int *done)
{
    Net *n = &nets[net];
    epoch++;
    heap_count = 0;
    goal_x0 = goal_y0 = 1 << 29;
    goal_x1 = goal_y1 = -1;
    for (int k = 0; k < n->pads; k++) {
        int cell = pad_cell(n, k), x = cell % width, y = cell / width;
        goal[cell] = done[k] ? 0 : k + 1;
        if (done[k])
            continue;
        goal_x0 = x < goal_x0 ? x : goal_x0;
        goal_x1 = x > goal_x1 ? x : goal_x1;
        goal_y0 = y < goal_y0 ? y : goal_y0;
        goal_y1 = y > goal_y1 ? y : goal_y1;
    }
    for (int i = 0; i < tree_count; i++)
        reach(polishing ? tree[i] * 9 + 8 : tree[i], 0, -1);
    int state = -1, pad = -1;
    while (heap_count && pad < 0) {
        Entry e = pop();
        if (e.key > cost[e.state] + ahead(node_of(e.state) % cells) + 1e-3F)
            continue;
        state = e.state;
        pad = goal[node_of(state) % cells] - 1;
        if (pad < 0)
            expand(net, state);
    }
    if (pad < 0)
        return 0;
    append(&n->path, BREAK);
    for (; state >= 0; state = from[state]) {
        append(&n->path, node_of(state));
        tree[tree_count++] = node_of(state);
    }
    for (int l = 0; l < LAYERS; l++)
        tree[tree_count++] = l * cells + pad_cell(n, pad);
    done[pad] = 1;
    (*left)--;
    return 1;
}

static int lay(int net)
{
    Net *n = &nets[net];
    int done[NET_PADS] = {1}, left = n->pads - 1, ok = 1;
    n->path.count = tree_count = 0;
    if (left < 1)
        return 1;
    for (int l = 0; l < LAYERS; l++)
        tree[tree_count++] = l * cells + pad_cell(n, 0);
    while (left && ok)
        ok = connect(net, &left, done);
    for (int k = 0; k < n->pads; k++)
        goal[pad_cell(n, k)] = 0;
    return ok;
}

// ---------------------------------------------------------------- copper of a net
static int is_via(const Path *p, int i)
{
    return i && p->node[i] >= 0 && p->node[i - 1] >= 0 && p->node[i] / cells != p->node[i - 1] / cells;
}

static void put(int net, int sign)
{
    const Path *p = &nets[net].path;
    for (int i = 0; i < p->count; i++) {
        if (p->node[i] < 0)
            continue;
        if (is_via(p, i))
            stamp(p->node[i] % cells, 0, VIA, sign);
        stamp(p->node[i] % cells, p->node[i] / cells, nets[net].kind, sign);
    }
}

// Cells of a net (its own copper taken away before) that are too near to foreign copper; they grow dearer by `dearer`.
static int conflicts(int net, float dearer)
{
    const Path *p = &nets[net].path;
    int count = 0;
    for (int i = 0; i < p->count; i++) {
        if (p->node[i] < 0)
            continue;
        int layer = p->node[i] / cells, cell = p->node[i] % cells;
        if (!taken[nets[net].kind][layer][cell] && !(is_via(p, i) && taken[VIA][0][cell]))
            continue;
        history[layer][cell] += dearer;
        count++;
    }
    return count;
}

// One round: nets in conflict are laid anew, and some of the others, to make room. Result: nets in conflict.
static int negotiate(const int *order, int round, int with_late)
{
    int bad = 0, spots = 0;
    for (int i = 0; i < net_count; i++) {
        int net = order[i], fresh = nets[net].path.count == 0;
        if (nets[net].late && !with_late)
            continue;
        put(net, -1);
        if (!fresh && !conflicts(net, 0) && rand() % 100 >= 15) {
            put(net, 1);
            continue;
        }
        if (!lay(net)) {
            fprintf(stderr, "net %d: no way between the pads\n", net);
            exit(1);
        }
        put(net, 1);
    }
    for (int net = 0; net < net_count; net++) {
        put(net, -1);
        int here = conflicts(net, 0.4F);
        bad += here > 0;
        spots += here;
        put(net, 1);
    }
    if (round % 5 == 0 || !bad)
        fprintf(stderr, "round %d: %d nets in conflict at %d cells\n", round, bad, spots);
    return bad;
}

static void polish(const int *order)
{
    polishing = 1;
    for (int i = 0; i < net_count; i++) {
        Net *n = &nets[order[i]];
        Path old = n->path;
        put(order[i], -1);
        n->path = (Path){0};
        if (lay(order[i]))
            free(old.node);
        else
            n->path = old;
        put(order[i], 1);
    }
}

int main(int argc, char **argv)
{
    if (argc != 3) {
        fprintf(stderr, "usage: route ROUNDS SEED < input > output\n");
        return 2;
    }
    int rounds = atoi(argv[1]), bad = 1, with_late = 0, order[MAX_NETS];
    srand((unsigned)atoi(argv[2]));
    read_input();
    cost = malloc(sizeof(float) * (size_t)cells * LAYERS * 9);
    from = malloc(sizeof(int) * (size_t)cells * LAYERS * 9);
    seen = calloc((size_t)cells * LAYERS * 9, sizeof(int));
    tree = malloc(sizeof(int) * (size_t)cells * LAYERS);
    goal = zeros(sizeof(int));
    for (int i = 0; i < net_count; i++) {
        int j = rand() % (i + 1);
        order[i] = order[j];
        order[j] = i;
    }
    for (int round = 0; round < rounds; round++) {
        bad = negotiate(order, round, with_late);
        pressure = fmin(pressure * (pressure < 4 ? 1.08 : 1.02), 40.0);
        if (!bad && with_late)
            break;
        if (!bad)
            with_late = 1;
    }
    for (int pass = 0; !bad && pass < 3; pass++)
        polish(order);
    write_output();
    return bad != 0;
}
