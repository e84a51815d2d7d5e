"""Commands for the guitar and the computer: setup, ports, calibrate, settings."""
