"""Training family "rasterised": triangles with textures, lamps, projected shadows, a mirrored second pass."""
