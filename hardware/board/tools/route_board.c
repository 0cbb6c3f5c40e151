// The router's board: read, kept, written.
//
// SPDX-License-Identifier: CERN-OHL-S-2.0
#include "route_board.h"
#include <math.h>
#include <stdio.h>

int width, height, cells;
double pitch, left_x, top_y, clearance, radius[KINDS];
Pad pads[MAX_PADS];
Net nets[MAX_NETS];
int pad_count, net_count;
uint16_t *blocked[KINDS], *taken[KINDS][LAYERS];
float *history[LAYERS];
char *outside;

typedef struct { int count; int dx[2000], dy[2000]; } Disc;
static Disc disc[KINDS][KINDS];                                 // [what lies there][what asks]: too near within

static double cell_x(int cell) { return left_x + cell % width * pitch; }
static double cell_y(int cell) { return top_y + cell / width * pitch; }

// ---------------------------------------------------------------- what lies too near
static void make_discs(void)
{
    for (int a = 0; a < KINDS; a++)
        for (int b = 0; b < KINDS; b++) {
            double reach = radius[a] + radius[b] + clearance - 1e-6;
            int k = (int)ceil(reach / pitch);
            Disc *d = &disc[a][b];
            for (int dy = -k; dy <= k; dy++)
                for (int dx = -k; dx <= k; dx++)
                    if (hypot(dx, dy) * pitch < reach) {
                        d->dx[d->count] = dx;
                        d->dy[d->count++] = dy;
                    }
        }
}

static void stamp_for(uint16_t *table, const Disc *d, int cell, int sign)
{
    int x = cell % width, y = cell / width;
    for (int i = 0; i < d->count; i++) {
        int u = x + d->dx[i], v = y + d->dy[i];
        if (u >= 0 && v >= 0 && u < width && v < height)
            table[v * width + u] = (uint16_t)(table[v * width + u] + sign);
    }
}

// One cell of copper is there (sign 1) or no longer (-1). A via asks on both layers, so its table is layer 0's.
void stamp(int cell, int layer, int kind, int sign)
{
    for (int asks = 0; asks < CLASSES; asks++)
        for (int l = 0; l < LAYERS; l++)
            if (kind == VIA || l == layer)
                stamp_for(taken[asks][l], &disc[kind][asks], cell, sign);
    stamp_for(taken[VIA][0], &disc[kind][VIA], cell, sign);
}

static double distance(const Pad *p, double x, double y)
{
    double dx = fabs(x - p->x), dy = fabs(y - p->y);
    if (p->round)
        return hypot(dx, dy) - p->half_x;
    return hypot(fmax(0, dx - p->half_x), fmax(0, dy - p->half_y));
}

// A track bends between cells: beside round pads it comes nearer by 0.012 mm than its cells, beside corners by 0.03.
static void block_around(const Pad *p, int kind)
{
    double reach = radius[kind] + clearance + (p->round ? 0.012 : 0.03);
    uint16_t id = p->net < 0 ? NOBODY : (uint16_t)(p->net + 1);
    for (int cell = 0; cell < cells; cell++) {
        if (distance(p, cell_x(cell), cell_y(cell)) >= reach)
            continue;
        uint16_t *q = &blocked[kind][cell];
        *q = *q == 0 || *q == id ? id : NOBODY;
    }
}

// ---------------------------------------------------------------- input and output
void *zeros(size_t size)
{
    void *p = calloc((size_t)cells, size);
    if (!p)
        exit(1);
    return p;
}

static void wants(int got, int expected)
{
    if (got != expected) {
        fprintf(stderr, "route: the input ends early or holds something that is no number\n");
        exit(2);
    }
}

void read_input(void)
{
    int rects;
    wants(scanf("%d %d %lf %lf %lf %lf", &width, &height, &pitch, &left_x, &top_y, &clearance), 6);
    for (int k = 0; k < KINDS; k++)
        wants(scanf("%lf", &radius[k]), 1);
    cells = width * height;
    for (int k = 0; k < KINDS; k++) {
        blocked[k] = zeros(sizeof(uint16_t));
        for (int l = 0; l < LAYERS; l++)
            taken[k][l] = zeros(sizeof(uint16_t));
    }
    for (int l = 0; l < LAYERS; l++)
        history[l] = zeros(sizeof(float));
    outside = zeros(1);
    wants(scanf("%d", &rects), 1);
    while (rects--) {
        double a, b, c, d;
        wants(scanf("%lf %lf %lf %lf", &a, &b, &c, &d), 4);
        for (int q = 0; q < cells; q++)
            outside[q] |= cell_x(q) > a && cell_y(q) > b && cell_x(q) < c && cell_y(q) < d;
    }
    wants(scanf("%d", &net_count), 1);
    for (int i = 0; i < net_count; i++)
        wants(scanf("%d %d", &nets[i].kind, &nets[i].late), 2);
    wants(scanf("%d", &pad_count), 1);
    for (int i = 0; i < pad_count; i++) {
        Pad *p = &pads[i];
        wants(scanf("%lf %lf %lf %lf %d %d", &p->x, &p->y, &p->half_x, &p->half_y, &p->net, &p->round), 6);
        if (p->net >= 0)
            nets[p->net].pad[nets[p->net].pads++] = i;
    }
    make_discs();
    for (int k = 0; k < KINDS; k++)
        for (int i = 0; i < pad_count; i++)
            block_around(&pads[i], k);
}
void write_output(void)
{
    for (int net = 0; net < net_count; net++) {
        const Path *p = &nets[net].path;
        for (int i = 0; i < p->count; i++) {
            if (p->node[i] < 0)
                printf("net %d\n", net);
            else
                printf("%d %d %d\n", p->node[i] / cells, p->node[i] % cells % width, p->node[i] % cells / width);
        }
    }
}
