"""goodlength: from squash footage to the page handed to the player.

Rooms are listed in ARCHITECTURE.md. The Python door is `goodlength.tasks`.
"""

__version__ = "0.1.0"
