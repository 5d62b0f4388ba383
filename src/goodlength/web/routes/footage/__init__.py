"""Routes of footage: files, rallies, camera, tracking, poses, measured serves."""
