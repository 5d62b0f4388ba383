"""The demo's film: court, figures and sound rendered, put into a video file with its truth."""
