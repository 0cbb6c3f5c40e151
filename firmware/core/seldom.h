/* SPDX-License-Identifier: MIT */
/* Marks functions that the converter does not wait for: small rather than fast, and never inlined. */
#ifndef CORE_SELDOM_H
#define CORE_SELDOM_H

#define SELDOM __attribute__((noinline, optimize("Os")))

#endif
