/* SPDX-License-Identifier: MIT */
/* Inside the PC port: the converter's events in virtual time. */
#ifndef PC_ADC_H
#define PC_ADC_H
#include <stdint.h>

void pc_adc_reset(void);
uint64_t pc_adc_next_event(void);      /* ns; UINT64_MAX: none */
void pc_adc_event(void);               /* it is that time */

/* From port_pc.c. */
void pc_spend(uint64_t ns);
uint16_t pc_sample(uint8_t channel, uint8_t refs);

#endif
