/* SPDX-License-Identifier: MIT */
/* What a step sees of the executor.
 *
 * A step is a function that is called with a phase, 0 first, until it is done.
 * It never waits: it answers that it wants to be called again. */
#ifndef CORE_STEPS_H
#define CORE_STEPS_H
#include <stdbool.h>
#include <stdint.h>

#include "gen/protocol.h"

enum step_answer {
    GO_STAY,       /* call again, same phase */
    GO_ON,         /* next phase, after the wait asked for */
    GO_DONE,       /* carried out */
    GO_FAULT,      /* a safety rule; the event has been sent */
    GO_BAD         /* a step that cannot be */
};

struct step_run {
    uint8_t code;
    uint8_t phase;
    union {
        struct step_drive drive;
        struct step_levels levels;
        struct step_pin pin;
        struct step_sense sense;
        struct step_reference reference;
        struct step_settle settle;
        struct step_read read;
        struct step_scan scan;
        struct step_load load;          /* of a load_scan: the position it is at */
        struct step_load_scan load_scan;
        struct step_power_on power_on;
        struct step_level level;
        struct step_verify verify;
        struct step_pulse pulse;
        struct step_ground ground;
        struct step_ramp ramp;
        struct step_deadman deadman;
        struct step_registers registers;
        struct step_one_shot one_shot;
    } with;
    uint16_t code_seen;    /* converter codes between phases */
    uint16_t rest;         /* of a wait that is split, of a count; where a scan began */
    uint8_t position;      /* of a scan; where a plan was refused; conversions to come of a load */
    uint8_t refused;       /* enum lines_answer */
    bool scanning;         /* a load_scan past its beginning */
};

/* What must be over before a step starts: nothing; nothing but a load that waits to be let go;
 * the sample of every series; every series, its result taken. */
enum need { PLANS, NOTHING, SAMPLED, DRAINED };

/* The table of steps, by code (below STEP_COUNT; `end` is not carried out).
 * step_unpack: false if an argument is out of its range. */
uint8_t step_needs(uint8_t code);
bool step_unpack(struct step_run *run, const uint8_t *from);
enum step_answer step_carry_out(struct step_run *run);

/* Wait so long before the next phase.  A wait shorter than a turn of the main loop is
 * over when this returns, and the answer is false. */
bool step_wait(uint16_t us);

/* Not to be called again before this (hal_adc_sampled, hal_adc_still): asking so costs least. */
void step_until(bool (*condition)(void));

/* There is room for all that one position of a step can send. */
bool step_room(void);

/* Give a reading; an event that belongs to the next reading. */
void step_reading(uint16_t sum, uint8_t conversions);
void step_event(uint8_t kind, uint8_t position, uint16_t value);

/* A series whose result becomes a reading by itself; when hal_adc_free(). */
void step_series(uint8_t source, uint8_t repeats);

/* The same of node K under a load that may stand against a short: the load is judged by its result,
 * which becomes a reading, or an event and no reading.  It is for logic levels. */
void step_series_judged(const struct step_load *load);

/* The load that stands is let go as soon as the last sample is held, though the step is done before;
 * with `selector` K and the load selector too.  step_let_go() sees to it: true once nothing waits. */
void step_let_go_later(bool selector);
bool step_let_go(void);

/* No series is under way. */
bool step_drained(void);

/* The series given last is of more than one conversion, and not for a logic level only. */
bool step_measures(void);
void step_for_logic(void);

/* supply_watch.c: what the supply does while the chip is powered. */
void supply_watch_start(void);
bool supply_watch_due(bool at_leisure);
/* Gives a series of one conversion; when hal_adc_free(). */
void supply_watch_look(void);
void supply_watch_take(uint16_t code);

/* steps_lines.c */
enum step_answer step_do_idle(struct step_run *run);
enum step_answer step_do_drive(struct step_run *run);
enum step_answer step_do_levels(struct step_run *run);
enum step_answer step_do_pin(struct step_run *run);
enum step_answer step_do_pulse(struct step_run *run);
enum step_answer step_do_sense(struct step_run *run);

/* steps_measure.c */
enum step_answer step_do_reference(struct step_run *run);
enum step_answer step_do_settle(struct step_run *run);
enum step_answer step_do_read(struct step_run *run);
enum step_answer step_do_scan(struct step_run *run);
enum step_answer step_do_load(struct step_run *run);
enum step_answer step_do_load_scan(struct step_run *run);
/* Where the rails of the powered chip are, avcc codes. */
void step_rails(uint16_t ground, uint16_t supply);

/* steps_ramp.c */
enum step_answer step_do_ramp(struct step_run *run);
/* One look more, while a ramp is under way. */
void step_ramp_look(void);

/* steps_one_shot.c */
enum step_answer step_do_one_shot(struct step_run *run);

/* steps_health.c */
enum step_answer step_do_lines_read(struct step_run *run);
enum step_answer step_do_deadman(struct step_run *run);
enum step_answer step_do_registers(struct step_run *run);
enum step_answer step_do_supply_span(struct step_run *run);

/* steps_power.c */
enum step_answer step_do_power_on(struct step_run *run);
enum step_answer step_do_power_off(struct step_run *run);
enum step_answer step_do_ground(struct step_run *run);
enum step_answer step_do_level(struct step_run *run);
enum step_answer step_do_verify(struct step_run *run);

#endif
