"""The score drafted from who served: observations, the lattice of states, decoding."""
