"""Published figures as context, never as targets."""
