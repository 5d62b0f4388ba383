"""How likely a span is a rally: by itself, and by what stands around it in its recording."""
