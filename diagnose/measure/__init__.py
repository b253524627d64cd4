"""Physical quantities from what a person can measure: pure functions, one module a family.

Units are those of the SI (m, s, kg, Pa, W, V, A, m^3/s, turns a second), temperatures in degrees Celsius and their
differences in kelvin, shares as fractions of one. What lies outside a function's range is refused, never extrapolated.
`rules/calculations` says how each is asked for; `diagnose.reckon` does the asking.
"""
