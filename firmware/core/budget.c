/* SPDX-License-Identifier: MIT */
#include "core/budget.h"

#include "gen/wiring.h"

#define TOTAL WIRING_GROUPS           /* index of the sum of all groups */

/* LD is a port pin like the others; port B belongs to the third group of the data sheet's notes. */
#define LD_GROUP 2
_Static_assert(WIRING_LD_PORT == 1, "LD is on port B");

static uint16_t sums[2][WIRING_GROUPS + 1];     /* [sourcing] */
static uint16_t ld_current;
static bool ld_high;

void budget_lines_off(void)
{
    for (uint8_t i = 0; i <= TOTAL; i++)
        sums[0][i] = sums[1][i] = 0;
    budget_give(LD_GROUP, ld_high, ld_current);
}

void budget_start(void)
{
    ld_current = 0;
    budget_lines_off();
}

void budget_take(uint8_t group, bool high, uint16_t current)
{
    uint16_t *of = sums[high];
    of[group] = (uint16_t)(of[group] - current);
    of[TOTAL] = (uint16_t)(of[TOTAL] - current);
}

void budget_give(uint8_t group, bool high, uint16_t current)
{
    uint16_t *of = sums[high];
    of[group] = (uint16_t)(of[group] + current);
    of[TOTAL] = (uint16_t)(of[TOTAL] + current);
}

bool budget_fits(uint8_t *group_number)
{
    for (uint8_t group = 0; group < WIRING_GROUPS; group++) {
        if (sums[0][group] > wiring_group_limit[group] || sums[1][group] > wiring_group_limit[group]) {
            *group_number = (uint8_t)(group + 1);
            return false;
        }
    }
    *group_number = 0;
    return sums[0][TOTAL] <= WIRING_TOTAL_BUDGET && sums[1][TOTAL] <= WIRING_TOTAL_BUDGET;
}

bool budget_ld(uint16_t current, bool high)
{
    uint8_t group;
    if (current == ld_current && (high == ld_high || current == 0))
        return true;
    budget_take(LD_GROUP, ld_high, ld_current);
    budget_give(LD_GROUP, high, current);
    /* Less than before fits as before; if it goes the other way it must be looked at. */
    bool less = current == 0 || (high == ld_high && current <= ld_current);
    if (!less && !budget_fits(&group)) {
        budget_take(LD_GROUP, high, current);
        budget_give(LD_GROUP, ld_high, ld_current);
        return false;
    }
    ld_current = current;
    ld_high = high;
    return true;
}

uint16_t budget_now(uint8_t group, bool high)
{
    return sums[high][group];
}
