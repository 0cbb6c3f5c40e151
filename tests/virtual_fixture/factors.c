/* factors.c: elimination that knows which entries are not zero (a bit a column).
 *
 * 28 nodes, of which most know two or three others: with the poorest first hardly
 * anything fills in.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "factors.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MUCH_LARGER 10   /* than the diagonal: a pivot instead of it */
#define SINGULAR_S 1e-15 /* siemens: no pivot */

struct factors *factors_new(void)
{
    return calloc(1, sizeof(struct factors));
}

/* Nodes with few neighbours first, so that elimination fills in little. */
void factors_order(struct factors *lu)
{
    int neighbours[NODES], n;
    if (!memcmp(lu->ordered, lu->in_row, sizeof lu->ordered))
        return;
    memcpy(lu->ordered, lu->in_row, sizeof lu->ordered);
    lu->known = false;
    for (int i = 0; i < NODES; i++) {
        neighbours[i] = __builtin_popcount(lu->in_row[i]);
        for (n = i; n > 0 && neighbours[lu->order[n - 1]] > neighbours[i]; n--)
            lu->order[n] = lu->order[n - 1];
        lu->order[n] = i;
    }
}

/* The diagonal stays the pivot unless something in its column is much larger.  lines: those left that
 * have something in the column. */
static int pick_pivot(const struct factors *lu, int own, int q, uint32_t lines)
{
    int best = own;
    double most = MUCH_LARGER * fabs(lu->a[own][q]);
    for (; lines; lines &= lines - 1) {
        int r = __builtin_ctz(lines);
        double v = fabs(lu->a[r][q]);
        if (v > most) {
            most = v;
            best = r;
        }
    }
    return best;
}

static void clear_lines(struct factors *lu, int c)
{
    int q = lu->order[c], n = lu->rights[c];
    const double *from = lu->a[lu->row[c]];
    const uint8_t *right = lu->right[c];
    double inverse = lu->inverse[c] = 1 / from[q];
    for (int m = 0; m < lu->belows[c]; m++) {
        double *line = lu->a[lu->below[c][m]], share = lu->shares[c][m] = line[q] * inverse;
        for (int k = 0; k < n; k++)
            line[right[k]] -= share * from[right[k]];
    }
}

/* For a pattern that was there before, as far as the pivots are on the diagonal: columns done. */
static int go_again(struct factors *lu)
{
    for (int c = 0; c < NODES; c++) {
        int q = lu->order[c];
        double own = fabs(lu->a[q][q]), most = 0;
        for (int m = 0; m < lu->belows[c]; m++)
            most = larger(most, fabs(lu->a[lu->below[c][m]][q]));
        if (most > MUCH_LARGER * own || own < SINGULAR_S)
            return c;
        clear_lines(lu, c);
    }
    return NODES;
}

static uint8_t list(uint32_t bits, uint8_t numbers[NODES])
{
    uint8_t n = 0;
    for (; bits; bits &= bits - 1)
        numbers[n++] = (uint8_t)__builtin_ctz(bits);
    return n;
}

static void swap_pivot(struct factors *lu, int c, int pivot)
{
    int own = lu->row[c], n = c;
    while (lu->row[n] != pivot)
        n++;
    lu->row[n] = own;
    lu->row[c] = pivot;
}

bool factors_find(struct factors *lu)
{
    uint32_t in_column[NODES] = {0}, columns = (1u << NODES) - 1, lines = columns;
    for (int i = 0; i < NODES; i++)
        lu->own[i] = lu->a[i][i];
    int done = lu->known && !memcmp(lu->pattern, lu->in_row, sizeof lu->pattern) ? go_again(lu) : 0;
    if (done == NODES)
        return true;
    memcpy(lu->pattern, lu->in_row, sizeof lu->pattern);
    lu->known = false;
    bool diagonal = true;
    for (int i = 0; i < NODES; i++) {
        lu->row[i] = lu->order[i];
        for (uint32_t m = lu->in_row[i]; m; m &= m - 1)
            in_column[__builtin_ctz(m)] |= 1u << i;
    }
    for (int c = 0; c < NODES; c++) {
        int q = lu->order[c], pivot = lu->row[c];
        if (c >= done)
            pivot = pick_pivot(lu, lu->row[c], q, in_column[q] & lines);
        if (pivot != lu->row[c]) {
            swap_pivot(lu, c, pivot);
            diagonal = false;
        }
        if (fabs(lu->a[pivot][q]) < SINGULAR_S)
            return false;
        columns &= ~(1u << q);
        lines &= ~(1u << pivot);
        uint32_t right = lu->in_row[pivot] & columns, below = in_column[q] & lines;
        lu->rights[c] = list(right, lu->right[c]);
        lu->belows[c] = list(below, lu->below[c]);
        for (uint32_t m = right; m; m &= m - 1)
            in_column[__builtin_ctz(m)] |= below;
        for (uint32_t m = below; m; m &= m - 1)
            lu->in_row[__builtin_ctz(m)] |= right;
        if (c >= done)
            clear_lines(lu, c);
    }
    lu->known = diagonal;
    return true;
}

void factors_back(const struct factors *lu, const double b[NODES], double x[NODES])
{
    double y[NODES];
    memcpy(y, b, sizeof y);
    for (int c = 0; c < NODES; c++) {
        double of = y[lu->row[c]];
        const uint8_t *below = lu->below[c];
        for (int m = 0, n = of == 0 ? 0 : lu->belows[c]; m < n; m++)
            y[below[m]] -= lu->shares[c][m] * of;
    }
    for (int c = NODES - 1; c >= 0; c--) {
        const double *line = lu->a[lu->row[c]];
        const uint8_t *right = lu->right[c];
        double s = y[lu->row[c]];
        for (int k = 0, n = lu->rights[c]; k < n; k++)
            s -= line[right[k]] * x[right[k]];
        x[lu->order[c]] = s * lu->inverse[c];
    }
}
