"""record.store: the library, one database file in a folder beside proxies, clips and uploads.

It keeps entries durable the moment they are acknowledged, and says in a sentence when it cannot.
It never replays, and no other room imports a database library. Public: `Library`.
"""

from goodlength.record.store.library_store import Library

__all__ = ["Library"]
