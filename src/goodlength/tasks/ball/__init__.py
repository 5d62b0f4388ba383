"""What is found of the ball in the videos of a match."""
