"""Are the tests able to see? Faults are put into the code, one at a time, and the tests that run the line must fail.

By hand, not in CI: `python -m tests.mutation --help`.
"""
