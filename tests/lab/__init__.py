"""A laboratory: simulated people who practise, the truth about what they did, and how well they are followed.

``PYTHONPATH=tests python -m lab.measure --help`` says how it is used. No part of the program.
"""
