/* network.h: the fixture around the controller: what its pins, switches, selectors
 * and the chip make of the voltages, moment by moment.
 *
 * A board (board_simavr.c, board_pc.c) reports what the controller does, with the
 * simulated time in seconds; time never goes back.  Whatever changes a switch or a
 * level is solved at once, so that a clock edge is never missed; between changes a
 * node approaches its solution with its own time constant.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef VIRTUAL_FIXTURE_NETWORK_H
#define VIRTUAL_FIXTURE_NETWORK_H

#include <stdbool.h>
#include <stdint.h>

#include "chip.h"
#include "specimen.h"

/* Nodes of the equation system: node k - 1 is position k. */
enum { N_K = CHIP_POSITIONS, N_VBUS, N_V5, N_VREF, NODES };

#define CLOSE_V CHIP_NEAR_V /* the step after which an iteration stops: its own error is far smaller */

enum line { LINE_OFF, LINE_LOW, LINE_HIGH, LINE_PULL_UP };

/* What a chip can do: the functions of chip.h, or those of a test's own chip. */
struct chip_ops {
    void (*currents)(const struct chip *, const double *, double *, double (*)[CHIP_POSITIONS + 1]);
    int (*settle)(struct chip *, const double *, double);
    int (*overstress)(const struct chip *, const double *, const double *, const char **, double *);
    double (*wait)(const struct chip *, const struct chip_course *); /* NULL: does nothing by itself */
    int (*act)(struct chip *, const struct chip_course *, double);
    uint64_t (*state)(const struct chip *); /* NULL: it does not tell */
    int (*pattern)(const struct chip *, uint32_t *); /* NULL: any */
};

/* Everything that the solution depends on; equal means nothing to solve. */
struct drive {
    uint8_t strong[SEATS], medium[SEATS];
    uint8_t supply[SEATS], ground[SEATS];
    uint8_t tied[MUXES]; /* channel + 1, 0 when off */
    uint8_t load, ld, lamp;
    uint8_t spare[2];
    uint32_t chip_serial;
    double usb_v, level_v;
};

struct chain {
    uint8_t shift[3], latch[3];
    bool clock, strobe;
};

struct deadman {
    double alive_v, couple_v, at;
    bool pump_high, tripped;
    double trip_at; /* when the comparator will have swung, or never */
    bool on;        /* OE_N is held low until ... */
    double release_at;
};

struct level {
    double f1, f2, at, duty;
};

#define SLIDE_MOST_V 1e-2 /* the level never moves farther without a new solution */

/* How the nodes move with the level drive; see slide.c. */
struct slide {
    double along[NODES], at_v, stride_v;
};

struct converter {
    double held_v;                        /* on the sample capacitor */
    double aref_from, aref_since;         /* where the AREF capacitor started, when */
    int reference;                        /* REFS code it goes to, -1 before the first */
    uint64_t conversions;
    double phase_sin[3];                  /* of the non-linearity's phases */
};

/* The chip where its currents were asked for last. */
struct terminals {
    bool known;
    bool exact;                        /* in_row is `may`; else it is looked for there */
    uint32_t nodes, may[SEATS];        /* rows and their columns that can have slopes, bit = position - 1 */
    double v[SEATS], i[SEATS], j[SEATS][SEATS];
    uint32_t in_row[SEATS]; /* which slopes are not zero, bit = position - 1 */
};

struct violation {
    double moment_s, value;
    char what[56], where[24];
};

#define VIOLATIONS 256
#define RULES_OPEN 128
/* Volts between the switched supply and ground positions while both are on: what the chip gets at its pins. */
struct rails {
    int supply, ground;                  /* positions; 0: not powered now */
    double vcc_v, gnd_v, low_v, high_v;  /* now; least and most of the difference */
    double since_s, volt_s, powered_s;   /* mean = volt_s / powered_s */
};

struct watch {
    struct rails rails;
    struct violation list[VIOLATIONS];
    uint32_t count; /* may exceed VIOLATIONS: those beyond are only counted */
    uint8_t open[SEATS + PINS + GROUPS + 8]; /* rule is being broken now: one record an episode */
    double short_since[SEATS];
    bool shorted; /* any of them */
    int broken;   /* rules that are being broken now */
    bool seen, calm; /* this solution was looked at; and then no rule was broken */
    double longest_short_s;
    double peak_pin_a, peak_group_a[GROUPS], peak_total_a;
};

/* Which pins of a port read what they will read until the next solution; see pins.c. */
struct look {
    uint64_t epoch;
    uint8_t sure;
};

/* Conductances at the positions for the present drive: to V5, to ground; leaks, lines and pull-ups. */
struct linear {
    bool ready;
    double up_s[CHIP_POSITIONS], down_s[CHIP_POSITIONS];
};

/* What follows from the specimen alone. */
struct shape {
    bool plain;                           /* no broken pin, no bridge: the drive tells what flows in every pin */
    uint8_t drives[PORTS];                /* pins that a drive hangs on */
    uint8_t live[PORTS];                  /* pins whose level is not that of settling nodes */
    int carriers;                         /* pins that can carry current: */
    uint8_t carrier[PINS];
};

struct factors;

struct network {
    struct specimen sp;
    struct shape shape;
    struct linear linear;
    uint8_t ddr[PORTS], out[PORTS];
    struct chain chain;
    struct deadman deadman;
    struct level level;
    struct slide slide;
    struct converter adc;
    struct watch watch;
    bool button, trip_disabled;
    uint8_t schmitt[PORTS];
    struct look look[PORTS];
    uint64_t epoch;      /* of the solution: another number, other nodes */
    bool was_enabled;    /* what the drive was gathered with */
    struct drive gathered;
    bool ports_turned, chain_turned; /* since then */

    const struct chip_ops *ops;
    struct chip *chip;
    uint32_t chip_serial;

    double now, since;
    struct drive drive, solved; /* now; when it was solved last */
    double target[NODES], start[NODES], tau[NODES];
    double seen_high[NODES], seen_low[NODES]; /* where each was when it was last high, and low */
    bool with_k[NODES]; /* moves as one with K */
    double end_tau_k;   /* of K near its end */
    double vdac_a;      /* out of the level buffer into the load selector */
    double chip_a[SEATS];
    struct terminals terminals;
    double slopes[NODES][NODES], chip_slopes[SEATS][SEATS]; /* written where only currents are wanted, never read */
    struct factors *factors; /* of the last solution that was found */
    struct recall *recall;
    struct kept *recalled; /* where the present solution is kept, NULL: nowhere */
    bool waiting;          /* chip_wait is still right */
    double chip_wait;
    double wake;        /* nothing happens by itself before */
    double next_tick;   /* look at a time-dependent chip, follow a moving level */
    uint64_t power_ups; /* how often the chip's supply was switched on */
    uint64_t solves, iterations, asked, skipped, oscillating, unsolved;
};

#define NEVER CHIP_NEVER
#define LEVEL_TICK_S 50e-6 /* how often a moving level drive is solved anew */

struct network *network_new(const struct specimen *specimen);
void network_free(struct network *net);
void network_chip(struct network *net, const struct chip_ops *ops, struct chip *chip);

/* The controller side.  `pins` are port registers A..L; all return after solving. */
void network_ports(struct network *net, const uint8_t ddr[PORTS], const uint8_t out[PORTS], double t);
void network_port(struct network *net, int port, uint8_t ddr, uint8_t out, double t);
uint8_t network_shift(struct network *net, uint8_t byte, double t);
void network_latch(struct network *net, double t); /* a pulse on the registers' latch line */
void pins_shape(struct network *net); /* for a new specimen */
uint8_t network_pins(struct network *net, int port, double t);
void network_duty(struct network *net, double duty, double t); /* of the PWM pin, 0..1; < 0: its port bit */
int network_convert(struct network *net, int channel, int reference, double acquire_s, double t);
void network_reference(struct network *net, int reference, double t);
double network_wake_at(const struct network *net); /* call network_advance then, NEVER if quiet */
void network_advance(struct network *net, double t);
void network_bring_up(struct network *net);           /* dead-man and level filter, to now */
void network_look(struct network *net, double t);    /* advance, for a look at logic levels */
void network_follow(struct network *net, double t);  /* advance, and bring everything up to date for a look */
void network_set_usb(struct network *net, double volts, double t);
void network_specimen(struct network *net, const struct specimen *specimen, double t); /* broken or mended */
void network_refresh(struct network *net, double t); /* after a change from outside: solve anew */

/* Looking at it. */
bool network_powered(const struct network *net); /* a supply switch is on */
double network_node(const struct network *net, int node, double t);
double network_pin_v(const struct network *net, int pin, double t);
double network_pin_a(const struct network *net, int pin, const double *node); /* out of the pin */
double network_icc_v(const struct network *net, double vbus, double v5);

struct jacobian {
    double (*j)[NODES];
    uint32_t *in_row; /* which columns of a row are not zero */
};

/* What a controller pin does to its net, whatever the program wants. */
static inline enum line network_line(const struct network *net, int pin)
{
    if (pin < 0)
        return LINE_OFF;
    switch (net->sp.pin_fault[pin]) {
    case FAULT_LOW: return LINE_LOW;
    case FAULT_HIGH: return LINE_HIGH;
    case FAULT_OPEN: return LINE_OFF;
    default: break;
    }
    unsigned out = net->out[pin / 8] >> pin % 8 & 1;
    if (net->ddr[pin / 8] >> pin % 8 & 1)
        return out ? LINE_HIGH : LINE_LOW;
    return out ? LINE_PULL_UP : LINE_OFF;
}

/* Rooms of the network (each its own file). */
void terminals_chip(struct network *net); /* another chip */
void terminals_add(struct network *net, const double x[NODES], double f[NODES], struct jacobian j);
void terminals_add_currents(struct network *net, const double x[NODES], double f[NODES]);
bool terminals_settle(struct network *net, const double v[SEATS]);
double terminals_wait(struct network *net);
bool terminals_act(struct network *net);
void network_apply(struct network *net, bool force); /* solve if anything that matters has changed */
void network_reschedule(struct network *net);        /* after anything that was done */
bool solve(struct network *net);
bool recall_solution(struct network *net, double x[NODES]); /* x, time constants and chip currents, if they are known */
void recall_keep(struct network *net);
bool recall_calm(const struct network *net);
void recall_tell_calm(struct network *net);
void recall_forget(struct network *net); /* something else than drive and chip's state has changed */
void guess(const struct network *net, double x[NODES]);
double solve_tau_k(struct network *net, double volts);
void elements(struct network *net, const double x[NODES], double f[NODES], struct jacobian j, double *vdac_a);
double element_vdac_limit(const struct network *net, double v5);
double element_vdac_slope(const struct network *net, double v5, double k);
void slide_begin(struct network *net, const double unit_k[NODES]);
bool slide_on(struct network *net);
void slide_learn(struct network *net, const double foretold[NODES]);
void deadman_reset(struct network *net);
void deadman_advance(struct network *net, double t);
void deadman_refresh(struct network *net); /* pump, rail or trip have changed */
void deadman_pump(struct network *net, bool high, double t);
bool deadman_enabled(const struct network *net);
double deadman_release_at(const struct network *net);
double deadman_oe_v(const struct network *net);
void bridge_currents(const struct network *net, const double x[NODES], double f[NODES], struct jacobian j);
double bridge_pin_v(const struct network *net, int pin, const double x[NODES], double *out_a);
void level_advance(struct network *net, double t);
bool level_moving(const struct network *net);
void chain_reset(struct network *net);
void chain_bit(struct network *net, bool in);
bool chain_output(const struct network *net, int bit);
void watch_solution(struct network *net);
void watch_ports(struct network *net);
void watch_add(struct network *net, const char *what, const char *where, double value);
double gaussian(uint64_t seed, uint64_t index);

extern const struct chip_ops chip_ops_linked; /* the functions of chip.h, where linked in */

#endif
