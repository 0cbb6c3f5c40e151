/* SPDX-License-Identifier: MIT */
#include "core/budget.h"

#include "gen/wiring.h"


/* LD is a port pin like the others; port B belongs to the third group of the data sheet's notes. */
#define LD_GROUP 2
_Static_assert(WIRING_LD_PORT == 1, "LD is on port B");

/* Of the lines that sink, and of those that source. */
static struct sums {
    uint16_t group[WIRING_GROUPS], total;
} sinking, sourcing;

/* Chosen by a branch: the controller multiplies badly. */
static inline struct sums *sums(bool high)
{
    return high ? &sourcing : &sinking;
}

static uint16_t ld_current;
static bool ld_high;

void budget_lines_off(void)
{
    sinking = sourcing = (struct sums){{0}, 0};
    budget_give(LD_GROUP, ld_high, ld_current);
}

void budget_start(void)
{
    ld_current = 0;
    budget_lines_off();
}

void budget_take(uint8_t group, bool high, uint16_t current)
{
    struct sums *of = sums(high);
    of->group[group] = (uint16_t)(of->group[group] - current);
    of->total = (uint16_t)(of->total - current);
}

void budget_give(uint8_t group, bool high, uint16_t current)
{
    struct sums *of = sums(high);
    of->group[group] = (uint16_t)(of->group[group] + current);
    of->total = (uint16_t)(of->total + current);
}

void budget_flip(uint8_t group, bool high, uint16_t current)
{
    budget_give(group, high, current);
    budget_take(group, !high, current);
}

bool budget_fits(uint8_t *group_number)
{
    for (uint8_t group = 0; group < WIRING_GROUPS; group++) {
        if (sinking.group[group] > wiring_group_limit[group] || sourcing.group[group] > wiring_group_limit[group]) {
            *group_number = (uint8_t)(group + 1);
            return false;
        }
    }
    *group_number = 0;
    return sinking.total <= WIRING_TOTAL_BUDGET && sourcing.total <= WIRING_TOTAL_BUDGET;
}

bool budget_fits_here(uint8_t group, bool high)
{
    const struct sums *of = sums(high);
    return of->group[group] <= wiring_group_limit[group] && of->total <= WIRING_TOTAL_BUDGET;
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
    return sums(high)->group[group];
}
