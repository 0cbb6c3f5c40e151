/* engine.h: a chip as a list of elements between socket positions.
 *
 * Nodes are socket positions 1..24, on the die side of the bond wire.  Python
 * (circuit.py) builds the list once; chip.h is how the network uses it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CHIPS_ENGINE_H
#define CHIPS_ENGINE_H

#include <stdint.h>
#include "../chip.h"
#include "junction.h"
#include "stages.h"

#define NODES (CHIP_POSITIONS + 1)
#define MAX_ELEMENTS 128
#define MAX_SHARED 16
#define MAX_POINTS 64

enum state { STATE_LOW, STATE_HIGH, STATE_OFF, STATE_UNPOWERED, STATES };

/* Why the logic is asked: an input crossed its threshold, power came or went. */
enum reason { REASON_INPUT, REASON_POWER_UP };

/* levels: bit p is the level of chip pin p.  Returns bit p set: output pin p high;
 * bit 32 + p set: output pin p off. */
typedef uint64_t (*logic_fn)(uint32_t levels, int reason, double now_s);

struct diode {
    int a, k;
    struct junction j;
};
struct resistor {
    int a, b;
    double siemens;
};
/* A leak that is a current, not a resistance: amperes from a to b, fading within
 * 0.2 V of zero. */
struct leak {
    int a, b;
    double amperes;
};
/* Inputs that share one base resistor (the emitters of one transistor, or the
 * diodes of one LS gate): they and the gate's own junction stack share its
 * current, the lowest taking nearly all. */
struct base {
    int vcc, gnd, count, pins[MAX_SHARED];
    struct junction j;           /* ohm is the base resistor */
    double steer_v;              /* where the stack takes over, against GND */
    double reverse_beta;         /* IIH of a high input, share of the base current */
};
/* Through-current of a CMOS input inverter. */
struct through {
    int pin, vcc, gnd;
    double kn, vtn, kp, vtp;
};
struct input {
    int pin, node, forced, level, known;   /* forced: -1, or the level the logic sees */
    double threshold, hysteresis;
    double fraction;                       /* threshold also rises by this x (VCC - 5) */
};
struct curve {
    int count, rail;                       /* rail: node the current returns to */
    int sharers, sharer[MAX_SHARED];       /* inputs that share it; the lowest carries it */
    double volts[MAX_POINTS], amperes[MAX_POINTS];
};
struct output {
    int pin, node, vcc, gnd, bipolar, has_pull_up, forced;  /* forced: -1 or a state */
    enum state state;
    struct sink sink;
    struct pull_up up;
    struct channel n, p;
    double supply_a[STATES];               /* this output's part of the supply current */
    double sink_max_a, source_max_a;       /* rating */
    struct curve *curve[STATES];
};
struct rating {
    double in_max_v, in_above_vcc_v;       /* against GND; against VCC (0: no such rating) */
    double clamp_a;                        /* current out of or into a clamp */
    double supply_v, reverse_a;
};

struct chip {
    int vcc, gnd;
    int diodes, resistors, leaks, bases, throughs, inputs, outputs;
    struct diode diode[MAX_ELEMENTS];
    struct resistor resistor[MAX_ELEMENTS];
    struct leak leak[MAX_ELEMENTS];
    struct base base[MAX_ELEMENTS];
    struct through through[MAX_ELEMENTS];
    struct input input[NODES];
    struct output output[NODES];
    struct curve *input_curve[NODES];      /* stands for an input of a powered chip */
    double series_ohm[NODES];              /* bond wire; 0: none */
    double supply_on_v, quiescent_a;       /* supply current without the outputs' parts */
    double excess_a, excess_on_v;
    double logic_on_v, logic_off_v;
    int powered;
    double powered_at_s;
    logic_fn logic;
    struct rating rating;
    double pad[NODES];                     /* last die voltages: a starting point only */
};

/* elements.c: currents and slopes at the die voltages v. */
void elements_currents(const struct chip *c, const double v[NODES], double i[NODES],
                       double j[NODES][NODES]);

/* solve.c: die voltages from terminal voltages. */
void solve_pads(struct chip *c, const double terminal[NODES], double pad[NODES]);
void eliminate(int n, int m, double a[NODES][NODES], double b[NODES][NODES]);

/* curve.c */
double curve_current(const struct curve *c, double v, double *g);

#endif
