/* SPDX-License-Identifier: MIT */
#include "core/convert.h"

#include "gen/wiring.h"
#include "hal/adc.h"
#include "hal/clock.h"

enum stage { SETTLED, SWITCHING, WAITING, DISCARDING };

static struct {
    uint8_t reference;
    uint8_t stage;
    uint32_t since;
    uint8_t spent;
} convert;

static const uint8_t channels[] = {
    [SOURCE_K] = WIRING_ADC_K,
    [SOURCE_ICC] = WIRING_ADC_ICC,
    [SOURCE_VDAC] = WIRING_ADC_VDAC,
    [SOURCE_VREF] = WIRING_ADC_VREF,
};

static void throw_away_one(void)
{
    hal_adc_start(WIRING_ADC_VREF, wiring_reference_bits[convert.reference], 1);
}

void convert_start(void)
{
    hal_adc_stop();
    convert.reference = REF_AVCC;
    convert.stage = SWITCHING;
    throw_away_one();
}

bool convert_reference(uint8_t reference)
{
    uint16_t sum;
    if (convert.stage == SETTLED) {
        if (reference == convert.reference)
            return true;
        convert.reference = reference;
        convert.stage = SWITCHING;
        throw_away_one();      /* the new reference reaches AREF with the start of a conversion */
        return false;
    }
    if (convert.stage == WAITING) {
        if (!hal_passed(hal_ticks(), convert.since, HAL_TICKS(WIRING_AREF_SETTLE_MS * 1000UL)))
            return false;
        convert.stage = DISCARDING;
        throw_away_one();
        return false;
    }
    if (!hal_adc_poll(&sum))
        return false;
    convert.since = hal_ticks();
    convert.stage = convert.stage == SWITCHING ? WAITING : SETTLED;
    return convert.stage == SETTLED && reference == convert.reference;
}

uint8_t convert_reference_now(void)
{
    return convert.reference;
}

bool convert_settled(void)
{
    return convert.stage == SETTLED || convert_reference(convert.reference);
}

static void spend(uint8_t conversions)
{
    uint8_t sum = (uint8_t)(convert.spent + conversions);
    convert.spent = sum < conversions ? UINT8_MAX : sum;
}

uint8_t convert_spent(void)
{
    return convert.spent;
}

void convert_spent_wait(uint16_t us)
{
    us >>= 7;                      /* 128 us: near enough to a conversion */
    spend((uint8_t)(us > UINT8_MAX ? UINT8_MAX : us));
}

void convert_spent_forget(void)
{
    convert.spent = 0;
}

void convert_series(uint8_t source, uint8_t repeats)
{
    hal_adc_start(channels[source], wiring_reference_bits[convert.reference], repeats);
    spend(repeats);
}

void convert_stop(void)
{
    hal_adc_stop();
    /* A change of reference that was under way starts again. */
    if (convert.stage != SETTLED) {
        convert.stage = SWITCHING;
        throw_away_one();
    }
}
