"""Answers of the sheet proposed from the ball's path: votes of drawn flights, and their chance.

It proposes and never answers; nothing here knows the record's log, the page or the file a path is stored in.
"""
