/* simavr_ports.c: port pins from and to the network, and the stack's reserve.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <string.h>

#include "simavr_board.h"

const uint16_t pin_register[PORTS] = {0x20, 0x23, 0x26, 0x29, 0x2C, 0x2F, 0x32, 0x100, 0x103, 0x106, 0x109};

static void port_now(struct bench *b, int port)
{
    struct simavr_board *s = board(b);
    const uint8_t *data = s->avr->data;
    uint64_t solved = b->net->solves;
    double wake = network_wake_at(b->net);
    network_port(b->net, port, data[pin_register[port] + 1], data[pin_register[port] + 2], now(b));
    s->changed_port[port] = s->avr->cycle;
    if (b->net->solves != solved)
        s->changed = s->avr->cycle;
    if (network_wake_at(b->net) != wake)
        simavr_schedule(b);
}

static void on_port_write(avr_t *avr, avr_io_addr_t address, uint8_t v, void *param)
{
    struct hook *h = param;
    const struct simavr_board *s = board(h->b);
    const uint16_t at = pin_register[h->port];
    uint8_t ddr = avr->data[at + 1], out = avr->data[at + 2];
    h->write(avr, address, v, h->param);
    if (ddr != s->avr->data[at + 1] || out != s->avr->data[at + 2])
        port_now(h->b, h->port);
}

/* "One nop between out and in": the data sheet's figure on reading a programmed pin.
 * in/out take one cycle, lds/sts two, the read in the last: both show here as the
 * cycle at which the instruction starts. */
static uint8_t on_pin_read(avr_t *avr, avr_io_addr_t address, void *param)
{
    struct hook *h = param;
    struct simavr_board *s = board(h->b);
    avr_cycle_count_t last = s->changed > s->changed_port[h->port] ? s->changed : s->changed_port[h->port];
    if (last && avr->cycle - last < 2) {
        char name[8] = {'P', 'I', 'N', "ABCDEFGHJKL"[h->port], 0};
        watch_add(h->b->net, "pin read before its synchroniser", name, (double)avr->pc);
    }
    avr->data[address] = network_pins(h->b->net, h->port, now(h->b));
    return avr->data[address];
}

void simavr_hook_ports(struct bench *b)
{
    struct simavr_board *s = board(b);
    for (int p = 0; p < PORTS; p++) {
        struct hook *hooks[3] = {&s->pin[p], &s->ddr[p], &s->out[p]};
        for (int r = 0; r < 3; r++) {
            int io = AVR_DATA_TO_IO(pin_register[p] + r);
            *hooks[r] = (struct hook){b, p, s->avr->io[io].w.c, s->avr->io[io].w.param};
            s->avr->io[io].w.c = on_port_write;
            s->avr->io[io].w.param = hooks[r];
        }
        s->avr->io[AVR_DATA_TO_IO(pin_register[p])].r.c = on_pin_read;
        s->avr->io[AVR_DATA_TO_IO(pin_register[p])].r.param = &s->pin[p];
    }
}

/* The bytes just above the program's data are the stack's last reserve: they must keep
 * what they hold, and the stack pointer must stay above them. */
void simavr_check_stack(struct bench *b)
{
    struct simavr_board *s = board(b);
    const uint8_t *at = s->avr->data + s->data_end;
    uint16_t sp = (uint16_t)(s->avr->data[R_SPL] | s->avr->data[R_SPL + 1] << 8);
    if (!s->data_end || s->overran)
        return;
    if (!s->canary_set)
        memcpy(s->canary, at, sizeof s->canary);
    s->canary_set = true;
    s->overran = sp < s->data_end + sizeof s->canary || memcmp(s->canary, at, sizeof s->canary);
    if (s->overran)
        watch_add(b->net, "stack ran into its reserve", "RAM", sp);
}

/* Bytes above the data that still hold what the first of them holds: never used. */
int simavr_stack_free(const struct bench *b)
{
    const struct simavr_board *s = board(b);
    if (!s->data_end)
        return -1;
    const uint8_t *ram = s->avr->data;
    int free_bytes = 0;
    while (s->data_end + free_bytes < s->avr->ramend && ram[s->data_end + free_bytes] == ram[s->data_end])
        free_bytes++;
    return free_bytes;
}
