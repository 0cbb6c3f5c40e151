/* engine.h: a chip as a list of elements between socket positions.
 *
 * Nodes are socket positions 1..24, on the die side of the bond wire.  Python
 * (circuit.py) builds the list once; chip.h is how the network uses it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CHIPS_ENGINE_H
#define CHIPS_ENGINE_H

#include <stdbool.h>
#include <stdint.h>
#include "../chip.h"
#include "junction.h"
#include "stages.h"

#define NODES (CHIP_POSITIONS + 1)
#define MAX_ELEMENTS 128
#define MAX_SHARED 16
#define MAX_POINTS 64
#define MAX_TIMERS 4
#define TIMER_START_BIT 25   /* of the logic's answer: timer k is started ... */
#define TIMER_STOP_BIT 57    /* ... and stopped */

enum state { STATE_LOW, STATE_HIGH, STATE_OFF, STATE_UNPOWERED, STATES };

/* Why the logic is asked: an input crossed its threshold, power came or went, the pulse of
 * timer reason - REASON_TIMER has ended. */
enum reason { REASON_INPUT, REASON_POWER_UP, REASON_TIMER };

/* levels: bit p is the level of chip pin p.  Returns bit p set: output pin p high, or the switch of pin p
 * closed; bit 32 + p set: output pin p off; see also TIMER_START_BIT. */
typedef uint64_t (*logic_fn)(uint32_t levels, int reason, double now_s);

/* Where the logic is: the number it gives its state (0: none, it must be asked each time), the levels it saw last. */
struct place {
    uint32_t state, levels;
    uint64_t asked;                        /* how often an answer was wanted */
};
/* An answer that was given before: from there, for those levels; and where it led. */
struct answer {
    uint32_t state, before, levels, next;  /* state 0: nothing here */
    uint64_t out;
};
#define ANSWERS 1024 /* a power of two; a newcomer takes the place */

struct diode {
    int a, k;
    struct junction j;
};
struct resistor {
    int a, b;
    double siemens;
};
/* An analog switch: as good as a resistor where the logic has closed it. */
struct gate {
    int pin, a, b;                         /* closed by bit `pin` of the logic's answer: an input's, which has no other use */
    bool closed;
    double siemens;
};
/* A leak from a to b that is `amperes` at 5 V.  Two paths beside each other: a damaged junction,
 * whose reverse current saturates within some 50 mV, I (1 - exp(-V / n VT)) with n 1 (diffusion)
 * to 2 (generation in the depletion layer), and a film on the surface, as good as a resistor.
 * Both are taken the same way round for either sign: the defect, not the junction proper, conducts. */
struct leak {
    int a, b;
    double amperes, junction_share, n;
    double t, junction; /* n VT; junction_share / (1 - exp(-5 V / n VT)) */
};
#define LEAK_FULL_V 5.0

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
    double lag_s;                          /* a bond wire's resistance x the input's capacitance */
    double aim_v, from_v, since_s;         /* on the die, against GND: where it goes, from where, since when */
    double edge_v;                         /* threshold that would change its level */
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
enum phase { TIMER_REST, TIMER_DISCHARGE, TIMER_TIMING };

/* A monostable's timing cell: see timer.c.  Levels are volts + share x supply against GND. */
struct timer {
    int node, cx, coupled, endless;
    double low_v, low_share, high_v, high_share;
    double on_ohm, floor_v;                /* the transistor that discharges, or pulls CX low */
    double up_ohm;                         /* coupled: CX to VCC at rest */
    double delay_s;                        /* inside the chip: a pulse without a capacitor */
    double stray_f, factor;                /* coupled: between the two pins; width = factor R C */
    struct junction base;                  /* coupled */
    enum phase phase;
    double let_go_s, until_s;
};
struct rating {
    double in_max_v, in_above_vcc_v;       /* against GND; against VCC (0: no such rating) */
    double clamp_a;                        /* current out of or into a clamp */
    double supply_v, reverse_a;
};

/* Current of an element at one or two voltages, with its slopes. */
typedef double (*law_fn)(const void *what, double x, double y, double *gx, double *gy);

/* Where elements were asked last, and what they gave there: most of a chip stays where it is while one pin
 * is moved. No state of the chip. */
struct memo {
    law_fn law;
    double x, y, i, gx, gy;
};
struct base_memo {
    bool known;
    int powered;
    double v[MAX_SHARED + 2], i[MAX_SHARED + 2], j[MAX_SHARED + 2][MAX_SHARED + 2];
};
struct memory {
    bool used;
    double near_v;                         /* so near to where it was asked last an element follows its slopes; 0: exact */
    struct memo diode[MAX_ELEMENTS], leak[MAX_ELEMENTS], through[MAX_ELEMENTS], output[NODES];
    struct base_memo base[MAX_ELEMENTS];
};

struct chip {
    int vcc, gnd;
    int diodes, resistors, leaks, bases, throughs, inputs, outputs, gates;
    struct diode diode[MAX_ELEMENTS];
    struct resistor resistor[MAX_ELEMENTS];
    struct leak leak[MAX_ELEMENTS];
    struct base base[MAX_ELEMENTS];
    struct through through[MAX_ELEMENTS];
    struct input input[NODES];
    struct output output[NODES];
    struct gate gate[NODES];
    bool curves;                           /* some input has one: */
    struct curve *input_curve[NODES];      /* stands for an input of a powered chip */
    int timers;
    bool lags;                             /* some input has a lag_s */
    struct timer timer[MAX_TIMERS];
    uint32_t levels;                       /* as the logic saw them last */
    double series_ohm[NODES];              /* bond wire; 0: none */
    double supply_on_v, quiescent_a;       /* supply current without the outputs' parts */
    double excess_a, excess_on_v;
    double logic_on_v, logic_off_v;
    int powered;
    int starved;                           /* powered, with too little for its logic: it keeps what it has */
    double powered_at_s;
    logic_fn logic;
    struct place place;
    struct answer *answers;
    struct rating rating;
    double pad[NODES];                     /* last die voltages: a starting point only */
    struct memory *memory;
};

/* logic.c: ask the logic; 1 if an output or a timer changed.  pad: die voltages for a timer
 * that is started. */
double input_wait(const struct input *in);
int logic_react(struct chip *c, int reason, const double pad[NODES], double now_s);

/* timer.c */
void timer_start(struct chip *c, struct timer *t, const double pad[NODES], double now_s);
void timer_stop(struct timer *t);
void add_timer(const struct chip *c, const struct timer *t, const double *v, double *i,
               double (*j)[NODES]);

/* I flows from a to b and depends on v[a] - v[b]. */
static inline void branch(int a, int b, double current, double g, double *i, double (*j)[NODES])
{
    i[a] += current;
    i[b] -= current;
    j[a][a] += g;
    j[b][b] += g;
    j[a][b] -= g;
    j[b][a] -= g;
}

/* elements.c: currents and slopes at the die voltages v. */
void elements_currents(const struct chip *c, const double v[NODES], double i[NODES],
                       double j[NODES][NODES]);

/* solve.c: die voltages from terminal voltages. */
void solve_pads(struct chip *c, const double terminal[NODES], double pad[NODES]);
void eliminate(int n, int m, double a[NODES][NODES], double b[NODES][NODES]);

/* curve.c */
double curve_current(const struct curve *c, double v, double *g);

#endif
