"""Test suites that were written elsewhere: their data, and how our readers fare on them."""
