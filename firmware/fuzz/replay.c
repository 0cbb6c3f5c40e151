/* SPDX-License-Identifier: MIT */
/* Run inputs kept from earlier, without a fuzzer: the files named as arguments. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int main(int count, char **names)
{
    for (int i = 1; i < count; i++) {
        static uint8_t bytes[1 << 16];
        FILE *file = fopen(names[i], "rb");
        if (!file) {
            perror(names[i]);
            return 2;
        }
        size_t size = fread(bytes, 1, sizeof bytes, file);
        (void)fclose(file);
        (void)fprintf(stderr, "%s: %zu bytes\n", names[i], size);
        LLVMFuzzerTestOneInput(bytes, size);
    }
    return 0;
}
