"""How often the statistics are right where the truth is known, and how they foretell open data.

python -m tests.calibration                 all studies, over an hour; writes docs/calibration.md
python -m tests.calibration --only trend    one study; replaces its part of the page
python -m tests.calibration --short         all studies in small, printed and not written
"""
