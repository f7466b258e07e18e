"""Measurements, side by side with what they are compared to, in one run; never asserts."""
