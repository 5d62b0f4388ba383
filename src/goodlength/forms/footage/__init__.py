"""Forms of what is read off footage: rallies, cameras, tracking, poses, measured serves, a drafted score."""
