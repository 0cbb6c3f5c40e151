/* chain.c: the chain of shift registers.
 *
 * A bit enters the first register; each register's last stage feeds the next.  Output
 * number register * 8 + n is Q(A + n).  A register comes up with anything in it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "network.h"

void chain_reset(struct network *net)
{
    for (int r = 0; r < 3; r++)
        net->chain.shift[r] = net->chain.latch[r] = (uint8_t)(net->sp.power_up_bits >> 8 * r);
}

void chain_bit(struct network *net, bool in)
{
    uint8_t *s = net->chain.shift;
    for (int r = 2; r >= 0; r--) {
        bool carry = r ? s[r - 1] >> 7 : in;
        s[r] = (uint8_t)(s[r] << 1 | carry);
    }
}

bool chain_output(const struct network *net, int bit)
{
    switch (net->sp.output_fault[bit]) {
    case FAULT_LOW: return false;
    case FAULT_HIGH: return true;
    default: return net->chain.latch[bit / 8] >> bit % 8 & 1;
    }
}
