"""Devices: the only room that reads a clock or starts a stream."""
