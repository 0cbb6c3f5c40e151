/* chip.h: the seam between the fixture's network and the chip in its socket.
 *
 * The network (network.c) knows positions and solves for their voltages; the
 * chip knows what its terminals draw.  Node voltages are against the fixture's
 * ground; index 1..CHIP_POSITIONS is a socket position, index 0 is unused.
 * Nothing here may be read by the host package.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef VIRTUAL_FIXTURE_CHIP_H
#define VIRTUAL_FIXTURE_CHIP_H

#include <stdint.h>

/* fmax and fmin without a call. A b that is no number is passed over, as there. */
static inline double larger(double a, double b)
{
    return b > a ? b : a;
}

static inline double smaller(double a, double b)
{
    return b < a ? b : a;
}

#define CHIP_POSITIONS 24

struct chip;

/* Terminal currents at the voltages v: i[k] in amperes, positive INTO the chip
 * at position k, and j[k][m] = d i[k] / d v[m].  The sum of i over all positions
 * is zero (whatever the chip does not return through a terminal does not exist).
 * Must be continuous and have a usable derivative everywhere in -2..+8 V; the
 * caller clears i and j before the call.  No state changes. */
void chip_currents(const struct chip *chip, const double v[CHIP_POSITIONS + 1],
                   double i[CHIP_POSITIONS + 1],
                   double j[CHIP_POSITIONS + 1][CHIP_POSITIONS + 1]);

/* The same for a caller that solves no finer than CHIP_NEAR_V: what hangs on voltages within that of where they
 * were asked for last is told by its slopes there.  Over 20 uV the bend of a junction adds less than 10 nV to a
 * solution. */
#define CHIP_NEAR_V 3e-4
void chip_currents_near(const struct chip *chip, const double v[CHIP_POSITIONS + 1], double i[CHIP_POSITIONS + 1],
                        double j[CHIP_POSITIONS + 1][CHIP_POSITIONS + 1]);

/* Look at the (solved) voltages, let the logic react.  Returns 1 if any output
 * changed state, so that the network must be solved again, 0 if it is settled.
 * `now_s` is simulated time (monostables, warm-up). */
int chip_settle(struct chip *chip, const double v[CHIP_POSITIONS + 1], double now_s);

/* The first terminal that is beyond its absolute maximum rating at these
 * voltages and currents, or 0; *what is then a constant text ("output sinks too
 * much"), *value the amperes or volts. */
int chip_overstress(const struct chip *chip, const double v[CHIP_POSITIONS + 1],
                    const double i[CHIP_POSITIONS + 1], const char **what, double *value);

/* What the nodes of the positions do until the network is solved again: position k moves from
 * from[k - 1] at since_s towards to[k - 1] with the time constant tau[k - 1]. */
struct chip_course {
    double since_s;
    const double *from, *to, *tau;
};

#define CHIP_NEVER 1e30

/* The moment at which the chip does something by itself (a monostable's cell lets go, a pulse
 * ends) if the nodes keep to that course; CHIP_NEVER if nothing waits. */
double chip_wait(const struct chip *chip, const struct chip_course *course);

/* Do what is due at now_s.  1 if the network must be solved again. */
int chip_act(struct chip *chip, const struct chip_course *course, double now_s);

/* All that its currents hang on besides the voltages: equal means equal currents at equal voltages. */
uint64_t chip_state(const struct chip *chip);

/* Where its slopes can be: columns[k] has bit m - 1 where j[k][m] may differ from 0. 1 if hardly more than that are in
 * use at any time; else the caller had better look. */
int chip_pattern(const struct chip *chip, uint32_t columns[CHIP_POSITIONS + 1]);

void chip_free(struct chip *chip);

#endif
