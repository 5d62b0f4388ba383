"""Players tracked through rallies: detection, clothing, tracking, identity."""
