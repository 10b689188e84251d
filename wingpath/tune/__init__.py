"""Slots, bores and numbers fitted to one printer and one spool: window, coupon, calibration."""
