"""Find the ball in the frames of a video: candidates per frame, and how well the ball can be seen at all.

```
 luma of five frames ─> motion map ─> cells that move ─> patches ─> network ─> candidates (at most 8)
                            └──────────> isolated spots (no model) ──────────────────┘
```
A candidate is a place in the picture with a score; which of them belong to one flight is decided elsewhere.
"""
