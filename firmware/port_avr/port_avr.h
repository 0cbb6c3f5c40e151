/* SPDX-License-Identifier: MIT */
#ifndef PORT_AVR_H
#define PORT_AVR_H

/* Peripherals, watchdog and interrupts on. */
void port_avr_start(void);
void port_avr_adc_start(void);

#endif
