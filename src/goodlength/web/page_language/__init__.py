"""Pages in the coach's language: sentences of the templates, and which language a request is answered in."""
