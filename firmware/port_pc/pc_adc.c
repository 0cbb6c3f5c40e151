/* SPDX-License-Identifier: MIT */
#include "port_pc/pc_adc.h"

#include <stdbool.h>

#include "hal/adc.h"
#include "port_pc/port_pc.h"

#define CLOCK_NS UINT64_C(8000)                        /* 125 kHz */
#define SAMPLE_NS (CLOCK_NS * 3 / 2)
#define CONVERSION_NS (CLOCK_NS * 13)
#define RESTART_NS 2000                      /* the interrupt routine's latency, where it starts the next one */
#define HELD_NS 22000                        /* as the controller tells it, by its timer */
#define QUIET_NS 60000
#define COST_NS 1500
#define START_NS 8000
#define RESULTS 2

struct series {
    uint8_t channel, refs, left;
};

static struct {
    struct series now, next;
    uint64_t start;                          /* of the conversion under way */
    bool sampled;
    uint16_t code, sum;
    uint16_t results[RESULTS];
    uint8_t count;
} adc;

void pc_adc_reset(void)
{
    adc.now.left = adc.next.left = 0;
    adc.count = 0;
}

static void begin(uint64_t when)
{
    adc.start = when;
    adc.sampled = false;
}

uint64_t pc_adc_next_event(void)
{
    if (!adc.now.left)
        return UINT64_MAX;
    return adc.start + (adc.sampled ? CONVERSION_NS : SAMPLE_NS);
}

void pc_adc_event(void)
{
    if (!adc.sampled) {
        adc.code = pc_sample(adc.now.channel, adc.now.refs);
        adc.sampled = true;
        return;
    }
    adc.sum = (uint16_t)(adc.sum + adc.code);
    bool by_itself = --adc.now.left || (adc.next.channel == adc.now.channel && adc.next.refs == adc.now.refs);
    begin(adc.start + CONVERSION_NS + (by_itself ? 0 : RESTART_NS));
    if (adc.now.left)
        return;
    adc.results[adc.count++] = adc.sum;
    adc.sum = 0;
    adc.now = adc.next;
    adc.next.left = 0;
}

void hal_adc_start(uint8_t channel, uint8_t refs, uint8_t count)
{
    struct series given = {channel, refs, count};
    pc_spend(START_NS);
    if (adc.now.left) {
        adc.next = given;
        return;
    }
    adc.now = given;
    adc.sum = 0;
    begin(port_pc_now_ns());
}

bool hal_adc_free(void)
{
    return !adc.next.left && adc.count + (adc.now.left != 0) < RESULTS;
}

static bool held(void)
{
    return port_pc_now_ns() >= adc.start + HELD_NS;
}

bool hal_adc_sampled(void)
{
    pc_spend(COST_NS);
    return !adc.next.left && (adc.now.left == 0 || (adc.now.left == 1 && held()));
}

bool hal_adc_holding(void)
{
    pc_spend(COST_NS);
    return adc.now.left == 0 || (held() && port_pc_now_ns() < adc.start + QUIET_NS);
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
    return !adc.now.left && !adc.count;
}

bool hal_adc_poll(uint16_t *sum)
{
    if (!adc.count)
        return false;
    *sum = adc.results[0];
    adc.results[0] = adc.results[1];
    adc.count--;
    return true;
}

void hal_adc_stop(void)
{
    pc_adc_reset();
    pc_spend(CONVERSION_NS);
}
