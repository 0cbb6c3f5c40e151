/* SPDX-License-Identifier: MIT */
#include "core/budget.h"

#include "gen/wiring.h"

#define TOTAL WIRING_GROUPS           /* index of the sum of all groups */

struct sums {
    uint16_t of[2][WIRING_GROUPS + 1];
};

static struct sums now, next;
static uint16_t ld_current;
static bool ld_high;

/* LD is a port pin like the others; port B belongs to the third group of the data sheet's notes. */
#define LD_GROUP 2
_Static_assert(WIRING_LD_PORT == 1, "LD is on port B");

void budget_lines_off(void)
{
    for (uint8_t i = 0; i <= TOTAL; i++)
        now.of[0][i] = now.of[1][i] = 0;
    now.of[ld_high][LD_GROUP] = now.of[ld_high][TOTAL] = ld_current;
}

void budget_start(void)
{
    ld_current = 0;
    budget_lines_off();
}

void budget_begin(void)
{
    next = now;
}

void budget_take(uint8_t group, bool high, uint16_t current)
{
    next.of[high][group] = (uint16_t)(next.of[high][group] - current);
    next.of[high][TOTAL] = (uint16_t)(next.of[high][TOTAL] - current);
}

void budget_give(uint8_t group, bool high, uint16_t current)
{
    next.of[high][group] = (uint16_t)(next.of[high][group] + current);
    next.of[high][TOTAL] = (uint16_t)(next.of[high][TOTAL] + current);
}

bool budget_fits(uint8_t *group_number)
{
    for (uint8_t high = 0; high < 2; high++) {
        for (uint8_t group = 0; group < WIRING_GROUPS; group++) {
            if (next.of[high][group] > wiring_group_limit[group]) {
                *group_number = (uint8_t)(group + 1);
                return false;
            }
        }
        if (next.of[high][TOTAL] > WIRING_TOTAL_BUDGET) {
            *group_number = 0;
            return false;
        }
    }
    return true;
}

void budget_commit(void)
{
    now = next;
}

bool budget_ld(uint16_t current, bool high)
{
    uint8_t group;
    if (current == ld_current && high == ld_high)
        return true;
    budget_begin();
    budget_take(LD_GROUP, ld_high, ld_current);
    budget_give(LD_GROUP, high, current);
    if (!budget_fits(&group))
        return false;
    ld_current = current;
    ld_high = high;
    budget_commit();
    return true;
}

uint16_t budget_now(uint8_t group, bool high)
{
    return now.of[high][group];
}
