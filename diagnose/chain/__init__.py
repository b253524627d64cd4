"""Forward chaining: one small form, two matchers that must agree, and which of them runs here."""
