"""The guitar and the computer: setup, ports, calibrate, settings."""
