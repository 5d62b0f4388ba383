"""How the demo's rallies are played: the ball's flight, targets, walking, the camera's place."""
