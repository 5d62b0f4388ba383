"""The handout: its data, its contents in words and pictures, and its writers for PDF and HTML."""
