/* storm.c: both boards and the bare network under random bytes, port patterns and
 * conversions, for the sanitizers.  Prints solves and failures to solve.
 *
 *     storm SPECIMEN IMAGE LIBRARY SEED
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <stdio.h>
#include <stdlib.h>

#include "bench.h"

struct bench *vf_open(const struct specimen *specimen, int kind, const char *image, char *error, size_t size);
double vf_run(struct bench *b, double until_s, double wall_limit_s);
void vf_close(struct bench *b);
struct plain *plain_new(void);
void plain_free(struct plain *p);
int plain_resistor(struct plain *p, int a, int b, double ohm);
int plain_inverter(struct plain *p, int in, int out, int vcc, int gnd, double ohm);
extern const struct chip_ops plain_ops;

static void talk(struct bench *b)
{
    for (int n = 0; n < 20; n++) {
        for (int i = rand() % 300; i > 0; i--)
            ring_put(&b->rx, (uint8_t)rand());
        vf_run(b, b->net->now + 0.02, 0);
        while (ring_get(&b->tx) >= 0)
            ;
        if (n == 10)
            b->ops->reset(b);
        if (n == 15)
            network_set_usb(b->net, 4.4, b->net->now);
    }
}

static void storm(struct network *net)
{
    for (int n = 0; n < 5000; n++) {
        double t = net->now + (rand() % 1000) * 1e-7;
        network_port(net, rand() % PORTS, (uint8_t)rand(), (uint8_t)rand(), t);
        if (n % 10 == 0)
            network_shift(net, (uint8_t)rand(), t);
        if (n % 7 == 0)
            network_convert(net, rand() % 16, rand() % 4, 12e-6, t);
        if (n % 11 == 0)
            network_pins(net, rand() % PORTS, t);
        if (n % 97 == 0)
            network_duty(net, rand() % 1024 / 1024.0, t);
    }
}

int main(int count, char **words)
{
    struct specimen specimen;
    char error[300] = "";
    FILE *file = count == 5 ? fopen(words[1], "rb") : NULL;
    if (!file || fread(&specimen, sizeof specimen, 1, file) != 1)
        return 2;
    fclose(file);
    srand((unsigned)atoi(words[4]));
    struct plain *chip = plain_new();
    for (int i = 1; i < 7; i++)
        plain_inverter(chip, i, 24 - i, 24, 7, 50);
    plain_resistor(chip, 24, 7, 500);
    for (int kind = 0; kind < 2; kind++) {
        struct bench *b = vf_open(&specimen, kind, words[2 + kind], error, sizeof error);
        if (!b) {
            puts(error);
            return 1;
        }
        network_chip(b->net, &plain_ops, (struct chip *)chip);
        vf_run(b, 0.1, 0);
        talk(b);
        storm(b->net);
        printf("%lu %lu\n", (unsigned long)b->net->solves, (unsigned long)b->net->unsolved);
        vf_close(b);
    }
    plain_free(chip);
    return 0;
}
