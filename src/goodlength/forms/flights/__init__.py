"""Forms of flights of the ball and of where to aim."""
