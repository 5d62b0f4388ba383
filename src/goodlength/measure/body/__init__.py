"""Bodies from joints: angles, pose normalisation, how early a serve shows."""
