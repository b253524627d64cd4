"""Calculations and findings from measured numbers: units at the edge, uncertainty through any function of `diagnose.measure`."""
