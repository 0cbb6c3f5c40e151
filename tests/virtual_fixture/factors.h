/* factors.h: triangular factors of a sparse matrix of NODES lines.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef VIRTUAL_FIXTURE_FACTORS_H
#define VIRTUAL_FIXTURE_FACTORS_H

#include "network.h"

/* Factors of the Jacobian, kept as the few entries that are not zero. */
struct factors {
    double a[NODES][NODES];
    uint32_t in_row[NODES];                     /* which columns of a line are not zero */
    double own[NODES];                          /* diagonal before elimination */
    int order[NODES];                           /* columns in the order of elimination */
    int row[NODES];                             /* which line of a is the pivot of order[c] */
    uint8_t right[NODES][NODES], rights[NODES]; /* columns right of the pivot in its line */
    double shares[NODES][NODES], inverse[NODES]; /* of the pivot's line, by place in `below`; 1 / pivot */
    uint8_t below[NODES][NODES], belows[NODES]; /* lines that a column is cleared from */
    uint32_t ordered[NODES], pattern[NODES];    /* in_row that `order` is for; and that right and below are for ... */
    bool known;                                 /* ... if they are known: each column's pivot on the diagonal */
};

struct factors *factors_new(void);      /* NULL: no memory; free() it */
void factors_order(struct factors *lu); /* for a new pattern; keep it while the pattern is about the same */
bool factors_find(struct factors *lu);  /* a and in_row become the factors; false: singular */
void factors_back(const struct factors *lu, const double b[NODES], double x[NODES]);

#endif
