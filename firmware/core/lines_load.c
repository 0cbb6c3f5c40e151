/* SPDX-License-Identifier: MIT */
/* The lines of the one position under load, which need not be verified. */
#include "core/budget.h"
#include "core/lines_inside.h"
#include "hal/ports.h"

static void uncount_load(void)
{
    const struct load_lines *load = &lines.load_next;
    if (!load->position)
        return;
    if (load->lines & 1)
        budget_take(wiring_medium[load->position - 1].group, load->high, WIRING_MEDIUM_SHORT);
    if (load->lines & 2)
        budget_take(wiring_strong[load->position - 1].group, load->high, WIRING_STRONG_SHORT);
    lines.load_next.position = 0;
}

static void line_on(const struct wiring_line *line, bool high)
{
    uint8_t level = high ? line->mask : 0;
    hal_port_out(line->port, line->mask, level);
    hal_port_ddr(line->port, line->mask, line->mask);
    lines.out[line->port] |= level;
    lines.ddr[line->port] |= line->mask;
}

static void line_off(const struct wiring_line *line)
{
    hal_port_ddr(line->port, line->mask, 0);
    hal_port_out(line->port, line->mask, 0);
    lines.ddr[line->port] &= (uint8_t)~line->mask;
    lines.out[line->port] &= (uint8_t)~line->mask;
}

enum lines_answer lines_load_plan(uint8_t position, uint8_t which, bool high, uint8_t *where)
{
    bool fits = true;
    uncount_load();
    if (!which)
        return LINES_OK;
    lines.load_next = (struct load_lines){position, which, high};
    if (which & 1) {
        uint8_t group = wiring_medium[position - 1].group;
        budget_give(group, high, WIRING_MEDIUM_SHORT);
        fits = budget_fits_here(group, high);
    }
    if (which & 2) {
        uint8_t group = wiring_strong[position - 1].group;
        budget_give(group, high, WIRING_STRONG_SHORT);
        fits = fits && budget_fits_here(group, high);
    }
    if (fits)
        return LINES_OK;
    (void)budget_fits(where);
    uncount_load();
    return LINES_OVER_BUDGET;
}

void lines_load_none(void)
{
    uncount_load();
}

void lines_load_off(void)
{
    const struct load_lines *load = &lines.load;
    if (!load->position)
        return;
    if (load->lines & 2)
        line_off(&wiring_strong[load->position - 1]);
    if (load->lines & 1)
        line_off(&wiring_medium[load->position - 1]);
    lines.load.position = 0;
}

void lines_load_on(void)
{
    const struct load_lines *load = &lines.load_next;
    lines.load = *load;
    if (!load->position)
        return;
    if (load->lines & 1)
        line_on(&wiring_medium[load->position - 1], load->high);
    if (load->lines & 2)
        line_on(&wiring_strong[load->position - 1], load->high);
}

enum lines_answer lines_load(uint8_t position, uint8_t which, bool high, uint8_t *where)
{
    enum lines_answer answer = lines_load_plan(position, which, high, where);
    if (answer == LINES_OK)
        lines_load_on();
    return answer;
}

void lines_unload(void)
{
    lines_load_off();
    uncount_load();
}
