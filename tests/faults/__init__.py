"""Disks that fill, runs that are killed, clocks and places that are strange."""
