"""Detect rallies, attempts and bounces: onsets in the sound, their segmentation, motion where sound fails."""
