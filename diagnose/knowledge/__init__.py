"""The rule base: its types, strict reading, integrity and lints."""
