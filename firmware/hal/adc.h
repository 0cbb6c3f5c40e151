/* SPDX-License-Identifier: MIT */
/* The converter: series of conversions, summed by the interrupt routine so that
 * they follow each other at the converter's own pace.
 *
 * Two series can be under way: one converting, one waiting.  The waiting one
 * starts by itself when the first has finished, and that is how the next
 * selection is switched while a conversion is still being ground out: once
 * hal_adc_sampled() says that the sample of the last conversion is held, the
 * input may change. */
#ifndef HAL_ADC_H
#define HAL_ADC_H
#include <stdbool.h>
#include <stdint.h>

/* Ports (a bit each) whose pins must not switch while a conversion is under way:
 * F and K carry the converter's inputs (ATmega2560 data sheet, "Analog Noise
 * Canceling Techniques"). */
#define HAL_ADC_PORTS ((1U << 5) | (1U << 9))

/* Give a series: `count` (1..64) conversions of `channel` against the reference
 * with REFS code `refs`.  Only when hal_adc_free() says so. */
void hal_adc_start(uint8_t channel, uint8_t refs, uint8_t count);

/* Room for one more series. */
bool hal_adc_free(void);

/* Every conversion of every series given has taken its sample. */
bool hal_adc_sampled(void);

/* No conversion is just now taking its sample, nor does the next one within 50 us: what
 * is disturbed now has settled by then. */
bool hal_adc_holding(void);

/* The last conversion of the last series is under way. */
bool hal_adc_last(void);

/* No series converts or waits. */
bool hal_adc_still(void);

/* No series converts, waits, or has a result not yet fetched. */
bool hal_adc_idle(void);

/* Fetch the sum of the oldest finished series; false if there is none. */
bool hal_adc_poll(uint16_t *sum);

/* Forget all series; returns when no conversion is under way (< 120 us). */
void hal_adc_stop(void);

#endif
