"""Where two players are in a simulated recording: ways of moving, written apart for learning and choosing."""
