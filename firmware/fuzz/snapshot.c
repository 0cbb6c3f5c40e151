/* SPDX-License-Identifier: MIT */
#include "fuzz/snapshot.h"

#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

/* Made by the linker for sections whose names are names of C. */
/* NOLINTBEGIN(bugprone-reserved-identifier,cert-*) */
extern uint8_t __start_device_bss[], __stop_device_bss[], __start_device_data[], __stop_device_data[];
/* NOLINTEND(bugprone-reserved-identifier,cert-*) */

static uint8_t *kept;             /* stands outside of what is kept */

/* Red zones lie between the variables: no sanitizer and no checked memcpy here (Makefile). */
static uint8_t *copy(uint8_t *from, const uint8_t *end, uint8_t *store, bool back)
{
    size_t size = (size_t)(end - from);
    for (size_t i = 0; i < size; i++) {
        if (back)
            from[i] = store[i];
        else
            store[i] = from[i];
    }
    return store + size;
}

static void all(bool back)
{
    uint8_t *store = copy(__start_device_bss, __stop_device_bss, kept, back);
    copy(__start_device_data, __stop_device_data, store, back);
}

void snapshot_take(void)
{
    size_t bss = (size_t)(__stop_device_bss - __start_device_bss);
    size_t data = (size_t)(__stop_device_data - __start_device_data);
    kept = malloc(bss + data);
    if (!kept)
        abort();
    all(false);
}

bool snapshot_put_back(void)
{
    if (!kept)
        return false;
    all(true);
    return true;
}
