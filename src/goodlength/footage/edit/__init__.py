"""Make new files from recordings: clips, playable copies, highlights, stills, overlays, archives."""
