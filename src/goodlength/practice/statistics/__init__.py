"""Statistics of practice: hit rates, evidence, scatter, learning curves, transfer."""
