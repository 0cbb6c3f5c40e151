/* factors.c: elimination that knows which entries are not zero (a bit a column).
 *
 * 28 nodes, of which most know two or three others: with the poorest first hardly
 * anything fills in.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "factors.h"

#include <math.h>
#include <string.h>

/* Nodes with few neighbours first, so that elimination fills in little. */
void factors_order(struct factors *lu)
{
    int neighbours[NODES], n;
    for (int i = 0; i < NODES; i++) {
        neighbours[i] = __builtin_popcount(lu->in_row[i]);
        for (n = i; n > 0 && neighbours[lu->order[n - 1]] > neighbours[i]; n--)
            lu->order[n] = lu->order[n - 1];
        lu->order[n] = i;
    }
}

/* The diagonal stays the pivot unless something in its column is ten times larger.  lines: those left that
 * have something in the column. */
static int pick_pivot(const struct factors *lu, int own, int q, uint32_t lines)
{
    int best = own;
    double most = 10 * fabs(lu->a[own][q]);
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

static void clear_column(struct factors *lu, int c, int pivot, int q, uint32_t lines)
{
    const double *from = lu->a[pivot];
    double inverse = 1 / from[q];
    int m = 0, n = lu->rights[c];
    for (; lines; lines &= lines - 1) {
        int r = __builtin_ctz(lines);
        double *line = lu->a[r];
        line[q] *= inverse;
        for (int k = 0; k < n; k++)
            line[lu->right[c][k]] -= line[q] * from[lu->right[c][k]];
        lu->below[c][m++] = (uint8_t)r;
    }
    lu->belows[c] = (uint8_t)m;
}

bool factors_find(struct factors *lu)
{
    uint32_t in_column[NODES] = {0}, columns = (1u << NODES) - 1, lines = columns;
    for (int i = 0; i < NODES; i++) {
        lu->own[i] = lu->a[i][i];
        lu->row[i] = lu->order[i];
        for (uint32_t m = lu->in_row[i]; m; m &= m - 1)
            in_column[__builtin_ctz(m)] |= 1u << i;
    }
    for (int c = 0; c < NODES; c++) {
        int q = lu->order[c], own = lu->row[c], pivot = pick_pivot(lu, own, q, in_column[q] & lines), n = 0;
        if (pivot != own) {
            for (n = c; lu->row[n] != pivot; n++)
                continue;
            lu->row[n] = own;
            lu->row[c] = pivot;
            n = 0;
        }
        if (fabs(lu->a[pivot][q]) < 1e-15)
            return false;
        columns &= ~(1u << q);
        lines &= ~(1u << pivot);
        uint32_t right = lu->in_row[pivot] & columns, below = in_column[q] & lines;
        for (uint32_t m = right; m; m &= m - 1) {
            lu->right[c][n++] = (uint8_t)__builtin_ctz(m);
            in_column[__builtin_ctz(m)] |= below;
        }
        lu->rights[c] = (uint8_t)n;
        for (uint32_t m = below; m; m &= m - 1)
            lu->in_row[__builtin_ctz(m)] |= right;
        clear_column(lu, c, pivot, q, below);
    }
    return true;
}

void factors_back(const struct factors *lu, const double b[NODES], double x[NODES])
{
    double y[NODES];
    memcpy(y, b, sizeof y);
    for (int c = 0; c < NODES; c++)
        for (int m = 0; m < lu->belows[c]; m++)
            y[lu->below[c][m]] -= lu->a[lu->below[c][m]][lu->order[c]] * y[lu->row[c]];
    for (int c = NODES - 1; c >= 0; c--) {
        const double *line = lu->a[lu->row[c]];
        double s = y[lu->row[c]];
        for (int k = 0; k < lu->rights[c]; k++)
            s -= line[lu->right[c][k]] * x[lu->right[c][k]];
        x[lu->order[c]] = s / line[lu->order[c]];
    }
}
