/* SPDX-License-Identifier: MIT */
/* Carries out the steps of a pass as they come, and streams what they give. */
#ifndef CORE_EXECUTOR_H
#define CORE_EXECUTOR_H
#include <stdbool.h>
#include <stdint.h>

#include "core/seldom.h"
#include "gen/protocol.h"

SELDOM void executor_start(void);

/* A pass begins; only when none runs. */
SELDOM void executor_begin(uint16_t pass_id);
bool executor_running(void);
uint16_t executor_pass_id(void);

/* One turn; and what bears some delay. */
void executor_turn(uint32_t now);
void executor_slow_turn(uint32_t now);

/* What it waits for comes within a conversion (104 us), and the converter will wait for it then. */
bool executor_urgent(void);

/* For what takes long between two turns: a ramp under way looks at its pin. */
void executor_glance(void);

/* No step is under way; `steps` that have come but are not begun are the link's. */
bool executor_quiet(void);

/* End the pass, if one runs: everything off.  With an event (kind, position and value
 * set) if `why` is not null; who sees a fault that has an event has switched everything off before. */
SELDOM void executor_abort(uint8_t status, const struct msg_event *why);

/* An event outside the pass's own course; needs link_space(). */
SELDOM void executor_event(uint16_t pass_id, uint8_t kind, uint8_t position, uint16_t value);

#endif
