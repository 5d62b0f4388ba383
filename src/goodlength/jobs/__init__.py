"""jobs: long work in a process of its own, with progress and cancel.

It never knows video, players or the library.
"""
