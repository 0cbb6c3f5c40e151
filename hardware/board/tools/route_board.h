// What the router knows of the board: a grid of cells, pads, nets, and what lies too near to what.
//
// SPDX-License-Identifier: CERN-OHL-S-2.0
#pragma once
#include <stdint.h>
#include <stdlib.h>

enum { LAYERS = 2, CLASSES = 2, VIA = CLASSES, KINDS = CLASSES + 1, MAX_NETS = 400, MAX_PADS = 2000, NET_PADS = 128 };
enum { NOBODY = 65535, BREAK = -1 };

typedef struct { double x, y, half_x, half_y; int net, round; } Pad;
typedef struct { int count, room; int *node; } Path;            // nodes pad-ward from the end; BREAK starts a piece
typedef struct { int kind, late, pads; int pad[NET_PADS]; Path path; } Net;

extern int width, height, cells;                                // grid
extern double pitch, left_x, top_y, clearance, radius[KINDS];
extern Pad pads[MAX_PADS];
extern Net nets[MAX_NETS];
extern int pad_count, net_count;
extern uint16_t *blocked[KINDS];                                // by pads: 0 free, net + 1 that net's, NOBODY
extern uint16_t *taken[KINDS][LAYERS];                          // how many foreign cells are too near
extern float *history[LAYERS];
extern char *outside;

void *zeros(size_t size);                                       // one element a cell
void read_input(void);                                          // and blocks what lies around the pads
void write_output(void);
void stamp(int cell, int layer, int kind, int sign);            // one cell of copper is there (1) or no longer (-1)
