"""bench: speed and truth measured, beside a peer where there is one; printed for people and as JSON.

Random state comes in and is printed, so that any figure can be made again. It never asserts seconds:
budgets stand in the architecture, and the figures measured in docs/bench.md.
Public names: one module a subject (`flights`, `nulls`, `cutting`, `page`, ...).
"""
