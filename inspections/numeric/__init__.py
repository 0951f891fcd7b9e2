"""Formulas of wear and of what is due: arrays in, frozen records out, without Django and without a clock.

scipy is imported inside the functions that use it: `scipy.special` and `scipy.optimize` take about half a second each
to import, which every command and every start of the server would pay for a few functions.
"""
