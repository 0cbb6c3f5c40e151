// Placement by simulated annealing (Kirkpatrick, Gelatt, Vecchi, "Optimization by simulated annealing", Science 1983):
// parts move, turn and change places at random; what shortens the wires (half the perimeter of each net's rectangle)
// or takes bodies off each other is kept, what does not is kept less and less often.  Equivalent pins (outputs of a
// register) change places as well.
//
// C because it needs some hundred million moves. Run by the designer only; its result is committed and checked.
//
//   place SEED MOVES HEAT PRICE < input > output    (input: placing.py; output: "part ref x y turns", "pin ref pad net")
//   From anywhere: heat 60, price 0.5. Mending what stands already: heat 4, price 30.
//
// SPDX-License-Identifier: CERN-OHL-S-2.0
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PARTS = 256, PADS = 48, NETS = 400, NET_ENDS = 96, OBSTACLES = 64, GROUPS = 16, MEMBERS = 64 };
typedef struct { double x0, y0, x1, y1; } Rect;
typedef struct { char ref[16]; int fixed, turns, pads; double x, y; Rect court; double pad_x[PADS], pad_y[PADS]; int net[PADS]; } Part;
typedef struct { int part, pad; } End;
typedef struct { int count; End end[NET_ENDS]; double weight, length; } Net;
typedef struct { int count; End end[MEMBERS]; } Group;         // pins that may change places

static Part part[PARTS];
static Rect box[PARTS];                                        // courtyards as they lie
static Net net[NETS];
static Group group[GROUPS];
static Rect bounds, obstacle[OBSTACLES];
static int parts, nets, groups, obstacles, movable[PARTS], movables;
static double grid, grid_x, grid_y, heat, price;               // price: of a square millimetre of overlap

static double chance(void)
{
    static uint64_t s = 88172645463325252ULL;
    s ^= s << 13;
    s ^= s >> 7;
    s ^= s << 17;
    return (double)(s >> 11) / 9007199254740992.0;
}

static int pick(int n) { return (int)(chance() * n); }
static int worth_it(double worse) { return worse <= 0 || chance() < exp(-worse / heat); }
static double snap_x(double x) { return round((x - grid_x) / grid) * grid + grid_x; }
static double snap_y(double y) { return round((y - grid_y) / grid) * grid + grid_y; }

// Quarter turns counter-clockwise as seen, y down, as KiCad counts.
static void turn(int turns, double x, double y, double *u, double *v)
{
    double c[4] = {1, 0, -1, 0}, s[4] = {0, 1, 0, -1};
    *u = x * c[turns & 3] + y * s[turns & 3];
    *v = y * c[turns & 3] - x * s[turns & 3];
}

// ---------------------------------------------------------------- cost
static void update_box(int i)
{
    const Part *p = &part[i];
    double a, b, c, d;
    turn(p->turns, p->court.x0, p->court.y0, &a, &b);
    turn(p->turns, p->court.x1, p->court.y1, &c, &d);
    box[i] = (Rect){p->x + fmin(a, c), p->y + fmin(b, d), p->x + fmax(a, c), p->y + fmax(b, d)};
}

static double common(const Rect *a, const Rect *b)
{
    if (a->x1 <= b->x0 || b->x1 <= a->x0 || a->y1 <= b->y0 || b->y1 <= a->y0)
        return 0;
    double w = fmin(a->x1, b->x1) - fmax(a->x0, b->x0), h = fmin(a->y1, b->y1) - fmax(a->y0, b->y0);
    return w * h + 0.2 * fmin(w, h);
}

// Square millimetres of a part on others (but `without`), on obstacles and off the board.
static double overlap(int i, int without)
{
    const Part *p = &part[i];
    const Rect *r = &box[i];
    double sum = 0;
    for (int j = 0; j < parts; j++)
        if (j != i && j != without && !(p->fixed && part[j].fixed))
            sum += common(r, &box[j]);
    if (p->fixed)
        return sum;
    for (int j = 0; j < obstacles; j++)
        sum += common(r, &obstacle[j]);
    double off = fmax(0, bounds.x0 - r->x0) + fmax(0, r->x1 - bounds.x1) + fmax(0, bounds.y0 - r->y0) + fmax(0, r->y1 - bounds.y1);
    return sum + 5 * off;
}

static double length(const Net *n)
{
    double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
    if (n->weight == 0 || n->count < 2)
        return 0;
    for (int k = 0; k < n->count; k++) {
        const Part *p = &part[n->end[k].part];
        double x, y;
        turn(p->turns, p->pad_x[n->end[k].pad], p->pad_y[n->end[k].pad], &x, &y);
        x0 = fmin(x0, x + p->x);
        x1 = fmax(x1, x + p->x);
        y0 = fmin(y0, y + p->y);
        y1 = fmax(y1, y + p->y);
    }
    return n->weight * (x1 - x0 + y1 - y0);
}

static double total_overlap(int tell)
{
    double sum = 0;
    for (int i = 0; i < parts; i++) {
        double here = overlap(i, -1);
        sum += here;
        if (tell && here > 0)
            fprintf(stderr, "%s overlaps by %.2f mm2\n", part[i].ref, here);
    }
    return sum;
}

// ---------------------------------------------------------------- moves
// Nets at one or two parts, each once.
static int nets_at(int i, int j, int *list)
{
    static int mark[NETS], round;
    int count = 0;
    round++;
    for (int t = 0; t < 2; t++)
        for (int k = 0, q = t ? j : i; q >= 0 && k < part[q].pads; k++) {
            int n = part[q].net[k];
            if (n >= 0 && mark[n] != round) {
                mark[n] = round;
                list[count++] = n;
            }
        }
    return count;
}

static void turn_about_middle(Part *p)
{
    double x = (p->court.x0 + p->court.x1) / 2, y = (p->court.y0 + p->court.y1) / 2, a, b, c, d;
    turn(p->turns, x, y, &a, &b);
    p->turns = (p->turns + 1 + pick(3)) & 3;
    turn(p->turns, x, y, &c, &d);
    p->x = snap_x(p->x + a - c);
    p->y = snap_y(p->y + b - d);
}

static void swap_places(Part *a, Part *b)
{
    double x = a->x, y = a->y;
    int turns = a->turns;
    a->x = b->x;
    a->y = b->y;
    b->x = x;
    b->y = y;
    if (a->pads == b->pads) {
        a->turns = b->turns;
        b->turns = turns;
    }
}

static void move_part(double range)
{
    int list[2 * PADS], i = movable[pick(movables)], j = -1;
    double kind = chance(), fresh[2 * PADS], longer = 0;
    if (kind < 0.2 && (j = movable[pick(movables)]) == i)
        return;
    Part old_i = part[i], old_j = j < 0 ? part[i] : part[j];
    double before = overlap(i, -1) + (j < 0 ? 0 : overlap(j, i));
    if (j >= 0)
        swap_places(&part[i], &part[j]);
    else if (kind < 0.35)
        turn_about_middle(&part[i]);
    else {
        part[i].x = snap_x(part[i].x + (chance() * 2 - 1) * range);
        part[i].y = snap_y(part[i].y + (chance() * 2 - 1) * range);
    }
    update_box(i);
    if (j >= 0)
        update_box(j);
    double after = overlap(i, -1) + (j < 0 ? 0 : overlap(j, i));
    int count = nets_at(i, j, list);
    for (int k = 0; k < count; k++)
        longer += (fresh[k] = length(&net[list[k]])) - net[list[k]].length;
    if (worth_it(longer + price * (after - before))) {
        for (int k = 0; k < count; k++)
            net[list[k]].length = fresh[k];
        return;
    }
    part[i] = old_i;
    update_box(i);
    if (j >= 0) {
        part[j] = old_j;
        update_box(j);
    }
}

static void reassign(int n, End was, End is)
{
    for (int k = 0; n >= 0 && k < net[n].count; k++)
        if (net[n].end[k].part == was.part && net[n].end[k].pad == was.pad) {
            net[n].end[k] = is;
            return;
        }
}

static void exchange(End a, End b, int na, int nb)              // a had net na and gets nb
{
    reassign(na, a, b);
    reassign(nb, b, a);
    part[a.part].net[a.pad] = nb;
    part[b.part].net[b.pad] = na;
}

static void swap_pins(void)
{
    const Group *g = &group[pick(groups)];
    End a = g->end[pick(g->count)], b = g->end[pick(g->count)];
    int na = part[a.part].net[a.pad], nb = part[b.part].net[b.pad];
    if (na == nb)
        return;
    exchange(a, b, na, nb);
    double la = na < 0 ? 0 : length(&net[na]), lb = nb < 0 ? 0 : length(&net[nb]);
    double longer = (na < 0 ? 0 : la - net[na].length) + (nb < 0 ? 0 : lb - net[nb].length);
    if (!worth_it(longer)) {
        exchange(a, b, nb, na);
        return;
    }
    if (na >= 0)
        net[na].length = la;
    if (nb >= 0)
        net[nb].length = lb;
}

// ---------------------------------------------------------------- input and output
static void wants(int got, int expected)
{
    if (got != expected) {
        fprintf(stderr, "place: the input ends early or holds something that is no number\n");
        exit(2);
    }
}

static void read_rect(Rect *r) { wants(scanf("%lf %lf %lf %lf", &r->x0, &r->y0, &r->x1, &r->y1), 4); }

static void read_input(void)
{
    wants(scanf("%lf %lf %lf", &grid, &grid_x, &grid_y), 3);
    read_rect(&bounds);
    wants(scanf("%d", &obstacles), 1);
    for (int i = 0; i < obstacles; i++)
        read_rect(&obstacle[i]);
    wants(scanf("%d", &nets), 1);
    for (int i = 0; i < nets; i++)
        wants(scanf("%lf", &net[i].weight), 1);
    wants(scanf("%d", &parts), 1);
    for (int i = 0; i < parts; i++) {
        Part *p = &part[i];
        wants(scanf("%15s %d %lf %lf %d", p->ref, &p->fixed, &p->x, &p->y, &p->turns), 5);
        read_rect(&p->court);
        wants(scanf("%d", &p->pads), 1);
        for (int k = 0; k < p->pads; k++) {
            wants(scanf("%lf %lf %d", &p->pad_x[k], &p->pad_y[k], &p->net[k]), 3);
            if (p->net[k] >= 0) {
                Net *n = &net[p->net[k]];
                n->end[n->count++] = (End){i, k};
            }
        }
        update_box(i);
        if (!p->fixed)
            movable[movables++] = i;
    }
    wants(scanf("%d", &groups), 1);
    for (int g = 0; g < groups; g++) {
        wants(scanf("%d", &group[g].count), 1);
        for (int k = 0; k < group[g].count; k++)
            wants(scanf("%d %d", &group[g].end[k].part, &group[g].end[k].pad), 2);
    }
}

static void write_output(void)
{
    for (int i = 0; i < parts; i++)
        printf("part %s %.6f %.6f %d\n", part[i].ref, part[i].x, part[i].y, part[i].turns & 3);
    for (int g = 0; g < groups; g++)
        for (int k = 0; k < group[g].count; k++) {
            End e = group[g].end[k];
            printf("pin %s %d %d\n", part[e.part].ref, e.pad, part[e.part].net[e.pad]);
        }
}

int main(int argc, char **argv)
{
    if (argc != 5) {
        fprintf(stderr, "usage: place SEED MOVES HEAT PRICE < input > output\n");
        return 2;
    }
    double moves = atof(argv[2]), start = atof(argv[3]), dear = atof(argv[4]), wire = 0;
    read_input();
    for (int i = atoi(argv[1]) * 1009; i > 0; i--)
        chance();
    for (int n = 0; n < nets; n++)
        net[n].length = length(&net[n]);
    for (double m = 0; m < moves; m++) {
        double done = m / moves;
        heat = start * pow(0.002, done);
        price = dear + done * 40;
        if (groups && chance() > 0.9)
            swap_pins();
        else
            move_part(start * (1 - done) * (1 - done) + 1);
        if (fmod(m, floor(moves / 10)) == 0)
            fprintf(stderr, "%3.0f %%, overlap %.1f mm2\n", done * 100, total_overlap(0));
    }
    for (int n = 0; n < nets; n++)
        wire += net[n].length;
    fprintf(stderr, "wires %.0f mm, overlap %.2f mm2\n", wire, total_overlap(1));
    write_output();
    return 0;
}
