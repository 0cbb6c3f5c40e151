"""Calibration of a fixture: what its parts really are, from its own reference, a known resistor and a meter.

    alone.calibrate_alone(device, fixture, session, progress)        stage 1
    walk.walk(device, fixture, session, waiting, say, keep)          stage 2
    evaluate.evaluate(fixture, session, made)                        -> measure.calibration.Calibration
    meter.with_meter(calibration, fixture, "rail", given, code, now) stage 3
    store.save, store.find                                           kept in the user's data folder

README.md beside this file says how it is done and how well.

SPDX-License-Identifier: MIT
"""
