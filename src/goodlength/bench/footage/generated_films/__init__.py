"""Films of made-up courts on which players are judged, and how they fare."""
