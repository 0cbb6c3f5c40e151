/* SPDX-License-Identifier: MIT */
/* All static state of the device, its port and the harness: kept once after booting and put back before
 * each input, which is a hundred times as fast as booting and just as reproducible.
 *
 * It needs those objects' data in sections of their own (Makefile, `fuzz`); built without -DSNAPSHOT
 * every input boots. */
#ifndef FUZZ_SNAPSHOT_H
#define FUZZ_SNAPSHOT_H

#include <stdbool.h>

#ifdef SNAPSHOT
void snapshot_take(void);
bool snapshot_put_back(void);     /* false: none has been taken */
#else
static inline void snapshot_take(void)
{
}
static inline bool snapshot_put_back(void)
{
    return false;
}
#endif

#endif
