# SPDX-License-Identifier: MIT
"""Makes the pictures of a batch's steps anew (tests/data/display/steps), to be looked at
by eye before they are committed. No test calls this. With the tests' environment:
    dbus-run-session -- python3 tests/station/make_display_steps.py"""
import os
import unittest

import display_window
import test_display

display_window.MAKES_STEPS = True
os.makedirs(display_window.STEPS, exist_ok=True)
suite = unittest.TestSuite(test_display.Display(name) for name in (
    "test_a_batch_by_mouse", "test_a_batch_by_finger_on_a_turned_picture"))
unittest.TextTestRunner(verbosity=2).run(suite)
