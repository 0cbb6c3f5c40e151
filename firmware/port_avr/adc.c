/* SPDX-License-Identifier: MIT */
/* ATmega2560: series of conversions, see hal/adc.h. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdbool.h>

#include "gen/wiring.h"
#include "hal/adc.h"
#include "port_avr/port_avr.h"

#define BIT(number) ((uint8_t)(1U << (number)))
#define RESULTS 2
/* A conversion starts with the next edge of its clock (8 us) and holds the sample
 * 1.5 of them later (data sheet, "Prescaling and Conversion Timing"): 20 us at
 * most.  In counts of timer 4, 0.5 us: */
#define SAMPLED_COUNTS 44
#define QUIET_COUNTS 120       /* from here on the next sample may come too soon after */
#define STOP_COUNTS 250

_Static_assert(WIRING_ADC_PRESCALER == 128 && WIRING_CLOCK_HZ == 16000000UL, "ADPS bits, SAMPLED_COUNTS");

struct series {
    uint8_t admux;
    uint8_t left;              /* conversions; 0: none */
};

static volatile struct {
    struct series now, next;
    uint16_t sum;
    uint16_t started;          /* timer 4 at the start of the conversion under way */
    bool sampled;              /* ... found to be held */
    uint16_t results[RESULTS];
    uint8_t first, count;
} adc;

/* In free-running mode a conversion follows the one before without a clock between
 * (13 clocks each; started by a write it must wait for the next edge, so 14).  ADATE is
 * set while one more conversion of the same channel is wanted behind the one under way.
 * ADIF must not be written as a one, which would forget a finished conversion, nor ADSC
 * but to start one. */
#define CONTROL (BIT(ADEN) | BIT(ADIE) | BIT(ADPS2) | BIT(ADPS1) | BIT(ADPS0))

static inline bool more_of_the_same(void)
{
    return adc.now.left > 1 || (adc.next.left && adc.next.admux == adc.now.admux);
}

static inline void convert(void)
{
    uint8_t control = more_of_the_same() ? CONTROL | BIT(ADATE) : CONTROL;
    ADCSRA = control;
    if (!(ADCSRA & BIT(ADSC))) {
        ADMUX = adc.now.admux;
        ADCSRA = control | BIT(ADSC);
    }
    adc.started = TCNT4;
    adc.sampled = false;
}

static inline void begin(uint8_t admux, uint8_t left)
{
    adc.now.admux = admux;
    adc.now.left = left;
    adc.sum = 0;
    convert();
}

/* A conversion has finished; the next one, if it is of the same channel, has begun by itself. */
ISR(ADC_vect)
{
    uint16_t sum = adc.sum + ADC;
    if (--adc.now.left) {
        convert();
        adc.sum = sum;
        return;
    }
    adc.results[(adc.first + adc.count) & (RESULTS - 1)] = sum;
    adc.count++;
    if (adc.next.left) {
        uint8_t left = adc.next.left;
        adc.next.left = 0;
        begin(adc.next.admux, left);
    }
}

void hal_adc_start(uint8_t channel, uint8_t refs, uint8_t count)
{
    uint8_t admux = (uint8_t)((refs << REFS0) | channel);
    uint8_t sreg = SREG;
    cli();
    if (adc.now.left) {
        adc.next.admux = admux;
        adc.next.left = count;
        if (more_of_the_same())
            ADCSRA = CONTROL | BIT(ADATE);
    } else {
        begin(admux, count);
    }
    SREG = sreg;
}

bool hal_adc_free(void)
{
    uint8_t sreg = SREG;
    cli();
    bool room = !adc.next.left && adc.count + (adc.now.left != 0) < RESULTS;
    SREG = sreg;
    return room;
}

bool hal_adc_sampled(void)
{
    uint8_t sreg = SREG;
    cli();
    bool held = true;
    if (adc.next.left || adc.now.left > 1)
        held = false;
    else if (adc.now.left && !adc.sampled) {
        held = (uint16_t)(TCNT4 - adc.started) >= SAMPLED_COUNTS;
        adc.sampled = held;
    }
    SREG = sreg;
    return held;
}

bool hal_adc_holding(void)
{
    uint8_t sreg = SREG;
    cli();
    uint16_t since = TCNT4 - adc.started;
    bool holding = !adc.now.left || (since >= SAMPLED_COUNTS && since < QUIET_COUNTS);
    SREG = sreg;
    return holding;
}

bool hal_adc_last(void)
{
    return adc.now.left == 1 && !adc.next.left;
}

bool hal_adc_still(void)
{
    return !adc.now.left;
}

bool hal_adc_idle(void)
{
    uint8_t sreg = SREG;
    cli();
    bool idle = !adc.now.left && !adc.count;
    SREG = sreg;
    return idle;
}

bool hal_adc_poll(uint16_t *sum)
{
    bool some = false;
    uint8_t sreg = SREG;
    cli();
    if (adc.count) {
        *sum = adc.results[adc.first];
        adc.first = (adc.first + 1) & (RESULTS - 1);
        adc.count--;
        some = true;
    }
    SREG = sreg;
    return some;
}

void hal_adc_stop(void)
{
    uint8_t sreg = SREG;
    cli();
    adc.next.left = 0;
    adc.now.left = 0;
    adc.count = 0;
    ADCSRA = CONTROL & (uint8_t)~BIT(ADIE);
    SREG = sreg;
    while (ADCSRA & BIT(ADSC))
        ;
    ADCSRA = CONTROL | BIT(ADIF);        /* writing a one clears it */
}

void port_avr_adc_start(void)
{
    DIDR0 = BIT(WIRING_ADC_K) | BIT(WIRING_ADC_ICC) | BIT(WIRING_ADC_VDAC) | BIT(WIRING_ADC_VREF);
    ADMUX = BIT(REFS0);
    ADCSRB = 0;                          /* what follows by itself follows its own end */
    ADCSRA = CONTROL;
}
