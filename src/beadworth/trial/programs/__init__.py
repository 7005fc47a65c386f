"""Coupon programs: coils, plates, G-code, position maps."""
