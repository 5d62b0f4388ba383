"""Looks at films one after another and tells how each went, a line of JSON each; run as a module.

A film that takes this process down is the one after the last line told.
"""

from __future__ import annotations

import json
import sys
import traceback

from goodlength.errors import GoodlengthError
from goodlength.footage.media.video_probe import probe


def main(paths: list[str]) -> None:
    """Look at each."""
    for path in paths:
        how, words = "taken", ""
        try:
            probe(path, thorough=True, settle_s=0.0)
        except GoodlengthError:
            how = "refused"
        except Exception:
            how, words = "crash", f"{path}: {traceback.format_exc()}"
        sys.stdout.write(json.dumps({"how": how, "words": words[-700:]}) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
